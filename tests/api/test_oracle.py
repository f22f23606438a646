"""The tests' own reading of the model gives the design's examples exactly; only then is it worth asking the program."""
import pytest

from oracle import Mill, as_answer, length_of_mass
from support import examples

CASES = [(name, entries, q) for name, entries, questions in examples() for q in questions]


@pytest.mark.parametrize("name,entries,q", CASES,
                         ids=["%s %s %s" % (n, q["origin"], q["direction"]) for n, _, q in CASES])
def test_example(name, entries, q):
    got = Mill(entries).trace(q["origin"], q["direction"], from_mm=q.get("from_mm"), to_mm=q.get("to_mm"))
    assert as_answer(got) == q["lots"]


def test_all_examples_are_there():
    assert len(CASES) == 35


def test_length_of_a_coil():
    # 2000 kg of 5.5 mm rod, 7.85 g/cm3: 10723.7 m (ISO 16124's formula)
    assert round(length_of_mass(2_000_000, 5500) / 1000, 1) == 10723.7
