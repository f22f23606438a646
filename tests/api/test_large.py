"""A ledger that is large enough for what takes long to be made behind the server: whoever asks is told how far it is (202), and then has the
answer that counting everything gives."""
import json
import time

import pytest
from support import new_key, run_cli, serving

LOTS = 20500
HEAT = {"heat": "H1", "supplier": "A", "grade": "C82D"}


def rod(n):
    """Received one a minute, over two weeks around the turn from March to April."""
    minutes = 14 * 1440 + n
    day, minute = divmod(minutes, 1440)
    month, day = (3, day + 10) if day < 22 else (4, day - 21)
    at = "2026-%02d-%02dT%02d:%02d:00Z" % (month, day, minute // 60, minute % 60)
    body = {"lot": "R%05d" % n, "heat": "H1", "diameter_um": 5500, "length_mm": 1000000, "mass_g": 180000 + n}
    return {"key": new_key(), "kind": "receive", "at": at, "body": body}


def in_april(entry):
    return entry["at"] >= "2026-04"


@pytest.fixture(scope="module")
def rods():
    return [rod(n) for n in range(LOTS)]


def large_ledger(folder, rods):
    lines = [{"key": new_key(), "kind": "heat", "at": "2026-03-01T00:00:00Z", "body": HEAT}] + rods
    (folder / "mill.ndjson").write_text("".join(json.dumps(e) + "\n" for e in lines))
    done = run_cli("load", "--ledger", folder / "mill.kw", folder / "mill.ndjson")
    assert done.returncode == 0, done.stderr
    return folder / "mill.kw"


@pytest.fixture(scope="module")
def mill(tmp_path_factory, rods):
    with serving(large_ledger(tmp_path_factory.mktemp("large"), rods)) as s:
        yield s.api


def when_there(api, path, **query):
    """The answer, and how far it was whenever it was not there yet."""
    far = []
    while True:
        answer = api.request("GET", path, params=query)
        if answer.status_code == 503:  # busy with another question of the sort
            time.sleep(0.05)
            continue
        if answer.status_code != 202:
            assert answer.status_code == 200, answer.text
            return answer.json(), far
        assert int(answer.headers["Retry-After"]) >= 1
        far.append(answer.json())
        time.sleep(0.05)


def total(balance):
    return {r["what"]: r["mass_g"] for r in balance["rows"]}


def test_the_first_balance_of_all_time(mill, rods):
    balance, far = when_there(mill, "/api/balance")
    assert [f["done"] for f in far] == sorted(f["done"] for f in far) and all(f["done"] < LOTS for f in far if f["size"])
    grams = sum(e["body"]["mass_g"] for e in rods)
    assert total(balance) == {"received": grams, "stock": grams} and balance["unaccounted_g"] == 0
    april, far = when_there(mill, "/api/balance", month="2026-04")
    assert far == [] and april["in_g"] == sum(e["body"]["mass_g"] for e in rods if in_april(e))


def test_an_old_month_put_right(mill, rods):
    """Of two months the one that is put right changes, by what was put right; so it does in the answer for all time."""
    before = {m: when_there(mill, "/api/balance", month=m)[0]["in_g"] for m in ("2026-03", "2026-04")}
    right = dict(rods[7]["body"], mass_g=rods[7]["body"]["mass_g"] + 1234)
    mill.put("correct", {"entry": rods[7]["key"], "reason": "read wrongly", "body": right})
    after = {m: when_there(mill, "/api/balance", month=m)[0]["in_g"] for m in ("2026-03", "2026-04")}
    assert after == {"2026-03": before["2026-03"] + 1234, "2026-04": before["2026-04"]}
    whole, _ = when_there(mill, "/api/balance")
    assert whole["in_g"] == sum(after.values())
    # the same entries once more, into a ledger of their own, and everything counted
    mill.put("void", {"entry": rods[8]["key"], "reason": "not ours"})
    then, far = when_there(mill, "/api/balance", size=whole["ledger"]["size"])
    assert far and then == whole
    now, _ = when_there(mill, "/api/balance")
    assert now["in_g"] == whole["in_g"] - rods[8]["body"]["mass_g"]


def test_gaps(mill):
    """The heat came without its papers; nothing was sold."""
    gaps, far = when_there(mill, "/api/gaps", limit=5)
    assert all(f["size"] == 1000 and 0 <= f["done"] <= 1000 for f in far)
    assert [(g["kind"], g["code"], g["detail"]) for g in gaps["gaps"] if g["type"] == "heat"] == [("heat-papers", "H1", "both")]
    # whoever asks by other measures waits for these as well
    short, _ = when_there(mill, "/api/gaps", limit=5, long_m=10)
    assert short["settings"]["long_mm"] == 10000 and short["count"] == gaps["count"]


def test_what_needs_attention(mill, rods):
    """Asked until the stock has been counted: all but the lot that was not ours, once that has been said."""
    stock, there = None, LOTS - (mill.request("GET", "/api/lots/" + rods[8]["body"]["lot"]).status_code == 404)
    while stock is None:
        stock = mill.get("/api/attention")["stock"]
    assert [(s["kind"], s["lots"], s["left_mm"]) for s in stock] == [("rod", there, there * 1000000)]
