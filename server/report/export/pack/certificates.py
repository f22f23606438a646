"""What check.py says of a pack's certificates: that each has its entry and document here, and how it stands at this head."""
import hashlib
import json
import os
import sys


def canonical(value):
    """A document as it was hashed (RFC 8785; it has no numbers but whole ones, and no names beyond ASCII)."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode("utf-8")


def gather(entries):
    """The sum of each entry's document, and what was done to certificates."""
    documents, acts = {}, []
    for entry in entries:
        document = entry["body"].get("document") or entry["body"].get("body", {}).get("document")
        documents[entry["seq"]] = hashlib.sha256(canonical(document)).hexdigest() if document else None
        if entry["kind"] in ("certify", "withdraw", "correct", "void"):
            acts.append((entry["kind"], entry["key"], entry["body"]))
    return documents, acts


def check(wanted, entries):
    documents, acts = gather(entries)
    lines = [json.loads(line) for line in open("certificates.ndjson", encoding="utf-8")] if wanted else []
    for c in lines:
        if documents.get(c["document_entry"], "") != c["document_sha256"] or bool(c["document_sha256"]) != bool(c["pdf"]):
            sys.exit("certificate %s and its entry %d do not go together" % (c["certificate"], c["document_entry"]))
        if c["pdf"] and not os.path.isfile(c["pdf"]):
            sys.exit("%s is missing" % c["pdf"])
        print("certificate %s: %s, %s" % (c["certificate"], c["state"], c["pdf"] or "without a document"))
    if len(lines) != wanted:
        sys.exit("head.json says %d certificates; certificates.ndjson has %d" % (wanted, len(lines)))
    put_right = {body["entry"] for kind, _, body in acts if kind in ("correct", "void")}
    states = {c["certificate"]: c["state"] for c in lines}
    for kind, code in ((k, b["certificate"]) for k, key, b in acts if "certificate" in b and key not in put_right):
        if code not in states or kind == "withdraw" and states[code] not in ("withdrawn", "replaced"):
            sys.exit("certificate %s: its entries are here, but certificates.ndjson does not tell of them" % code)
