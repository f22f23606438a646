#!/bin/sh
# EPCIS documents of the example mills and the demo mill, validated by ajv against the standard's schema.
#
#     run_epcis.sh KINWIRE STANDARDS EXAMPLES DEMO
#
# STANDARDS holds other people's files (epcis/schema/) and is no part of the project. Skipped (77) without it, or where
# there is no npm.
set -eu
kinwire=$1 schema=$2/epcis/schema/EPCIS-JSON-Schema.json examples=$3 demo=$4
[ -n "$2" ] && [ -f "$schema" ] || { echo "no folder with the EPCIS schema: skipped"; exit 77; }
for tool in node npm; do
        command -v "$tool" >/dev/null 2>&1 || { echo "no $tool: skipped"; exit 77; }
done
cd "$(dirname "$0")"
[ -d node_modules/ajv-cli ] && [ -d node_modules/ajv-formats ] || npm ci --no-audit --no-fund >/dev/null ||
        { echo "ajv could not be fetched: skipped"; exit 77; }

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
count=0
add() { # LEDGER ORIGIN [OPTION...]
        count=$((count + 1))
        ledger=$1 origin=$2
        shift 2
        "$kinwire" export --ledger "$ledger" "$origin" --as epcis "$@" -o "$work/$count.json"
}

for folder in "$examples"/*/; do
        ledger=$work/$(basename "$folder").kw
        "$kinwire" load --ledger "$ledger" "$folder/entries.ndjson" >/dev/null
        add "$ledger" all
done
"$kinwire" load --ledger "$work/demo.kw" "$demo" >/dev/null
add "$work/demo.kw" all
add "$work/demo.kw" month:2026-09
add "$work/demo.kw" lot:RL-0045 --direction back
add "$work/demo.kw" certificate:IC-0002 --direction back
add "$work/demo.kw" heat:48322 --names https://ropes.example/id/
add "$work/demo.kw" all --since 2026-09-10T06:00:00Z --until 2026-09-11T06:00:00Z

# what the others do not have: every kind of entry, a run under way, codes and names with all that they may hold
cat >"$work/odd.ndjson" <<'ENTRIES'
{"key":"00000000-0000-4000-8000-000000000001","kind":"heat","at":"2026-03-04T09:00:00Z","body":{"heat":"A/1.2-3","supplier":"Stål & Söhne, \"West\" 100 %","grade":"C82D"}}
{"key":"00000000-0000-4000-8000-000000000002","kind":"receive","at":"2026-03-04T09:01:00Z","body":{"lot":"L/1","heat":"A/1.2-3","diameter_um":5500,"length_mm":1000000,"location":"Reihe 1/Ä"}}
{"key":"00000000-0000-4000-8000-000000000003","kind":"open","at":"2026-03-04T09:02:00Z","body":{"run":"R/1","process":"wind","machine":"W-1","lines":["1"]}}
{"key":"00000000-0000-4000-8000-000000000004","kind":"load","at":"2026-03-04T09:03:00Z","body":{"run":"R/1","line":"1","lot":"L/1"}}
{"key":"00000000-0000-4000-8000-000000000005","kind":"doff","at":"2026-03-04T09:04:00Z","body":{"run":"R/1","lot":"P/1","kind":"bobbin","length_mm":400000}}
{"key":"00000000-0000-4000-8000-000000000006","kind":"open","at":"2026-03-04T09:05:00Z","body":{"run":"R/2","process":"wind","machine":"W-2","lines":["1"]}}
{"key":"00000000-0000-4000-8000-000000000007","kind":"test","at":"2026-03-04T09:06:00Z","body":{"test":"T/1","lot":"P/1","at_mm":0,"results":{"torsions":12},"verdict":"fail"}}
{"key":"00000000-0000-4000-8000-000000000008","kind":"hold","at":"2026-03-04T09:07:00Z","body":{"hold":"Q/1","reason":"torsions","lots":[{"lot":"P/1","from_mm":0,"to_mm":1000},{"lot":"P/1","from_mm":2000,"to_mm":3000}]}}
{"key":"00000000-0000-4000-8000-000000000009","kind":"release","at":"2026-03-04T09:08:00Z","body":{"hold":"Q/1","disposition":"concession","reason":"retested"}}
{"key":"00000000-0000-4000-8000-00000000000a","kind":"void","at":"2026-03-04T09:09:00Z","body":{"entry":"00000000-0000-4000-8000-000000000007","reason":"another bobbin's"}}
ENTRIES
"$kinwire" load --ledger "$work/odd.kw" "$work/odd.ndjson" >/dev/null
add "$work/odd.kw" all

fine=0
for n in $(seq "$count"); do
        if npx --no-install ajv validate --spec=draft7 --strict=false -c ajv-formats -s "$schema" -d "$work/$n.json"; then
                fine=$((fine + 1))
        fi
done
echo "- pass $fine"
echo "- fail $((count - fine))"
[ "$fine" -eq "$count" ]
