#!/usr/bin/env python3
"""Check an evidence pack: sums, entries, proofs and head; certificates.py beside it goes on with the certificates.
Run it where the pack was unzipped, or name that folder. Python's standard library is all it needs. Exit status 0: all right."""
import hashlib
import json
import os
import sys

sys.dont_write_bytecode = True  # nothing is added to the folder


def sha(*parts):
    return hashlib.sha256(b"".join(parts)).digest()


def root_from(leaf, index, size, proof):
    """The root to which a leaf's hash leads (RFC 9162, section 2.1.3.2)."""
    node, fn, sn = leaf, index, size - 1
    for sibling in proof:
        if sn == 0:
            return None
        if fn & 1 or fn == sn:
            node = sha(b"\x01", sibling, node)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            node = sha(b"\x01", node, sibling)
        fn, sn = fn >> 1, sn >> 1
    return node if sn == 0 else None


def check_sums():
    named = dict(reversed(line.rstrip("\n").split("  ", 1)) for line in open("MANIFEST.sha256", encoding="ascii"))
    for name, wanted in named.items():
        if hashlib.sha256(open(name, "rb").read()).hexdigest() != wanted:
            sys.exit("%s is not as it was packed" % name)
    for name in set(os.listdir(".")) - set(named) - {"MANIFEST.sha256"}:
        sys.exit("%s is not in the manifest" % name)


def check_entries(head):
    """Each entry, when its proof has led to the head's root."""
    root, size, count, last = bytes.fromhex(head["root"]), head["size"], 0, 0
    with open("entries.ndjson", "rb") as entries, open("proofs.ndjson", "rb") as proofs:
        for line, proof_line in zip(entries, proofs):
            entry, proof = json.loads(line), json.loads(proof_line)
            path = [bytes.fromhex(h) for h in proof["proof"]]
            if entry["seq"] <= last or entry["seq"] != proof["seq"] or any(len(h) != 32 for h in path):
                sys.exit("entry %s and its proof do not go together" % entry["seq"])
            count, last = count + 1, entry["seq"]
            if root_from(sha(b"\x00", line.rstrip(b"\n")), last - 1, size, path) != root:
                sys.exit("entry %d is not in the ledger of this head" % last)
            yield entry
        if count != head["entries"] or entries.read() or proofs.read():
            sys.exit("head.json says %d entries; not so many are here with their proofs" % head["entries"])
    print("%d entries are in the ledger of size %d with the root %s" % (count, size, head["root"]))


if __name__ == "__main__":
    os.chdir(sys.argv[1] if len(sys.argv) > 1 else ".")
    try:
        check_sums()
        import certificates
        with open("head.json", encoding="utf-8") as f:
            said = json.load(f)
        certificates.check(said.get("certificates", 0), check_entries(said))
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
        sys.exit("a file of the pack is not what it should be: %r" % problem)
