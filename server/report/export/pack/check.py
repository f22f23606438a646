#!/usr/bin/env python3
"""Check an evidence pack: sums, entries, proofs, head, certificates. Run it where the pack was unzipped, or name that folder.

Python's standard library is all it needs. Exit status 0: all right; 1: the first thing that is wrong is said.
"""
import hashlib
import json
import os
import sys


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
    named = {"MANIFEST.sha256"}
    for line in open("MANIFEST.sha256", encoding="ascii"):
        wanted, name = line.rstrip("\n").split("  ", 1)
        named.add(name)
        with open(name, "rb") as f:
            if hashlib.sha256(f.read()).hexdigest() != wanted:
                sys.exit("%s is not as it was packed" % name)
    for name in set(os.listdir(".")) - named:
        sys.exit("%s is not in the manifest" % name)


def check_entries():
    head = json.load(open("head.json", encoding="utf-8"))
    root, size, count, last, documents, acts = bytes.fromhex(head["root"]), head["size"], 0, 0, {}, []
    with open("entries.ndjson", "rb") as entries, open("proofs.ndjson", "rb") as proofs:
        for line, proof_line in zip(entries, proofs):
            entry, proof = json.loads(line), json.loads(proof_line)
            seq = entry["seq"]
            path = [bytes.fromhex(h) for h in proof["proof"]]
            if seq <= last or seq != proof["seq"] or any(len(h) != 32 for h in path):
                sys.exit("entry %s and its proof do not go together" % seq)
            if root_from(sha(b"\x00", line.rstrip(b"\n")), seq - 1, size, path) != root:
                sys.exit("entry %d is not in the ledger of this head" % seq)
            count, last = count + 1, seq
            document = entry["body"].get("document") or entry["body"].get("body", {}).get("document")
            documents[seq] = hashlib.sha256(canonical(document)).hexdigest() if document else None
            if entry["kind"] in ("certify", "withdraw", "correct", "void"):
                acts.append((entry["kind"], entry["key"], entry["body"]))
        if count != head["entries"] or entries.read() or proofs.read():
            sys.exit("head.json says %d entries; not so many are here with their proofs" % head["entries"])
    print("%d entries are in the ledger of size %d with the root %s" % (count, size, head["root"]))
    return head.get("certificates", 0), documents, acts


def canonical(value):
    """A document as it was hashed (RFC 8785; it has no numbers but whole ones, and no names beyond ASCII)."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode("utf-8")


def check_certificates(wanted, documents, acts):
    lines = [json.loads(x) for x in open("certificates.ndjson", encoding="utf-8")] if wanted else []
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


if __name__ == "__main__":
    os.chdir(sys.argv[1] if len(sys.argv) > 1 else ".")
    try:
        check_sums()
        check_certificates(*check_entries())
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
        sys.exit("a file of the pack is not what it should be: %r" % problem)
