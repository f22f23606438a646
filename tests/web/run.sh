#!/bin/sh
# The browser tests, with KINWIRE (the program) and KINWIRE_DEMO (the demo mill's entries) in the environment.
# Skipped (77) where there is no node or no chromium. `run.sh NAME.test.mjs` runs one file.
set -eu
cd "$(dirname "$0")"
for tool in node npm; do
        command -v "$tool" >/dev/null 2>&1 || { echo "no $tool: skipped"; exit 77; }
done
[ -x /usr/bin/chromium ] || { echo "no chromium: skipped"; exit 77; }
[ -d node_modules/playwright-core ] && [ -d node_modules/axe-core ] || npm ci --no-audit --no-fund
if [ $# -eq 0 ]; then set -- *.test.mjs; fi
exec node --test "$@"
