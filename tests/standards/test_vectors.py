"""Published vectors: RFC 9162 roots and proofs, RFC 8785 texts.

    test_vectors.py FORM_CHECK FOLDER

FOLDER holds other people's files (merkle/, jcs/) and is no part of the project; without it the test is skipped.
"""

import base64
import json
import pathlib
import subprocess
import sys

SKIPPED = 77


def ask(program, questions):
    """Answers of the program, one a question."""
    done = subprocess.run([program], input="".join(q + "\n" for q in questions), capture_output=True, text=True, check=True)
    answers = done.stdout.splitlines()
    assert len(answers) == len(questions), f"{len(answers)} answers to {len(questions)} questions"
    return answers


def as_hex(data):
    return data.hex() or "-"


def from_base64(text):
    return as_hex(base64.b64decode(text or ""))


def is_hash(hexed):
    return len(hexed) == 64


def merkle_roots(folder):
    kat = json.loads((folder / "merkle/rfc9162-kat-0-8.json").read_text())
    question = " ".join(["roots"] + [leaf or "-" for leaf in kat["leaf_inputs_hex"]])
    roots = kat["roots"]
    if isinstance(roots, dict):
        roots = [roots[str(n)] for n in range(len(roots))]
    yield "roots of 0 to 8 leaves", question, " ".join(roots)


def merkle_proofs(folder):
    base = folder / "merkle/transparency-dev/testdata"
    for path in sorted(base.glob("*/**/*.json")):
        case = json.loads(path.read_text())
        proof = [from_base64(h) for h in case["proof"] or []]
        if "leafIdx" in case:
            words = ["inclusion", from_base64(case["leafHash"]), str(case["leafIdx"]), str(case["treeSize"]),
                     from_base64(case["root"])]
        else:
            words = ["consistency", str(case["size1"]), str(case["size2"]), from_base64(case["root1"]),
                     from_base64(case["root2"])]
        # One vector has "don't care" for both roots and is to be accepted, as they are equal; a hash of 15 bytes is none here.
        right = not case["wantErr"] and is_hash(words[-1])
        yield str(path.relative_to(base)), " ".join(words + proof), "accepted" if right else "refused"


def whole_numbers_only(text):
    """Whether every number in the text is written without a point or an exponent."""
    odd = []
    json.loads(text, parse_float=odd.append)
    return not odd


def canonical_json(folder):
    for path in sorted((folder / "jcs/testdata/input").glob("*.json")):
        text = path.read_bytes()
        expected = (folder / "jcs/testdata/output" / path.name).read_bytes()
        octets = bytes.fromhex((folder / "jcs/testdata/outhex" / path.with_suffix(".txt").name).read_text())
        assert octets == expected, path.name
        whole = whole_numbers_only(text)
        yield path.name, "canonical " + as_hex(text), expected.hex() if whole else "bad-type"
        # what the canonical text is written from may have been 56.0 once; 4.5 has no canonical form here
        if not whole:
            yield path.name + ", read by the library", "value " + as_hex(text), \
                expected.hex() if whole_numbers_only(expected) else "none"


def main(program, folder):
    if not folder or not (pathlib.Path(folder) / "merkle").is_dir():
        print("skipped: no folder of published vectors (option 'standards')")
        return SKIPPED
    failed = 0
    for name, cases in [("RFC 9162 roots", merkle_roots), ("RFC 9162 proofs", merkle_proofs), ("RFC 8785", canonical_json)]:
        cases = list(cases(pathlib.Path(folder)))
        for (case, question, expected), answer in zip(cases, ask(program, [q for _, q, _ in cases])):
            if answer != expected:
                failed += 1
                print(f"{case}: {question}\n  expected {expected}\n  answered {answer}")
        print(f"{name}: {len(cases)} cases")
        assert cases
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else ""))
