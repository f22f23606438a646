"""Many writers, readers among them, and a process that is killed: numbers without gaps, nothing acknowledged lost, keys honoured."""
import json
import random
import signal
import threading
import time

import requests

from rfc9162 import leaf_hash, root
from support import PATIENCE, entry, eventually, new_key, run_cli


def in_threads(n, work):
    errors = []

    def run(i):
        try:
            work(i)
        except Exception as e:  # noqa: BLE001 (told below)
            errors.append(e)

    threads = [threading.Thread(target=run, args=(i,)) for i in range(n)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert not errors, errors[0]


def test_thirty_two_writers(server_on, tmp_path):
    s = server_on(tmp_path / "many.kw")
    acknowledged, lock = [], threading.Lock()

    def work(i):
        http = requests.Session()
        for n in range(25):
            e = entry("heat", {"heat": "H-%d-%d" % (i, n), "supplier": "A", "grade": "B"})
            answer = http.post(s.url + "/api/entries", json=e, timeout=PATIENCE)
            assert answer.status_code == 201, answer.text
            seq = answer.json()["seq"]
            with lock:
                acknowledged.append((seq, e["key"], answer.json()["head"]))
            # read your own write
            assert http.get(s.url + "/api/entries/%d" % seq, timeout=PATIENCE).json()["key"] == e["key"]

    in_threads(32, work)
    acknowledged.sort()
    assert [seq for seq, _, _ in acknowledged] == list(range(1, 32 * 25 + 1))
    leaves = s.api.leaves()
    stored = [json.loads(x) for x in leaves]
    assert [(e["seq"], e["key"]) for e in stored] == [(seq, key) for seq, key, _ in acknowledged]
    hashes = [leaf_hash(x.encode()) for x in leaves]
    for seq, _, head in random.Random(1).sample(acknowledged, 40):
        assert root(hashes[:seq]).hex() == head, "the head in a receipt is the head at its number"
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", s.ledger).returncode == 0


def test_one_key_from_many_threads_is_one_entry(server_on, tmp_path):
    s = server_on(tmp_path / "key.kw")
    e = entry("heat", {"heat": "H-1", "supplier": "A", "grade": "B"}, "2026-03-04T09:12:00Z")
    answers = []
    in_threads(16, lambda i: answers.append(requests.post(s.url + "/api/entries", json=e, timeout=PATIENCE)))
    assert sorted(a.status_code for a in answers) == [200] * 15 + [201]
    assert len({a.text for a in answers}) == 1
    assert s.api.get("/api/ledger/head")["size"] == 1


def test_the_last_metres_go_to_one_of_many(server_on, tmp_path):
    s = server_on(tmp_path / "race.kw")
    s.api.put("heat", {"heat": "H", "supplier": "A", "grade": "B"})
    s.api.put("receive", {"lot": "RC", "heat": "H", "diameter_um": 5500, "length_mm": 1000})
    got = []

    def work(i):
        e = entry("run", {"run": "R-%d" % i, "process": "wind", "machine": "M", "lines": [
            {"line": "1", "feeds": [{"lot": "RC", "take_mm": 300}]}],
            "packages": [{"lot": "BB-%d" % i, "kind": "bobbin", "length_mm": 300}]})
        got.append(requests.post(s.url + "/api/entries", json=e, timeout=PATIENCE).status_code)

    in_threads(12, work)
    assert got.count(201) == 3 and set(got) <= {201, 409, 422}
    assert s.api.lot("RC")["left"] == [[0, 100]]


def test_readers_are_not_kept_waiting_and_see_whole_entries(server_on, tmp_path):
    s = server_on(tmp_path / "rw.kw")
    s.api.put("heat", {"heat": "H", "supplier": "A", "grade": "B"})
    stop = threading.Event()
    worst = []

    def read(i):
        http = requests.Session()
        while not stop.is_set():
            t = time.monotonic()
            answer = http.get(s.url + "/api/trace?origin=heat:H", timeout=PATIENCE).json()
            worst.append(time.monotonic() - t)
            n = sum(x["kind"] == "rod" for x in answer["lots"])
            assert n % 10 == 0, "half of a request's entries was seen"

    sent = []

    def write(i):
        for n in range(150):
            if n >= 15 and len(worst) > 30:
                break  # they have been answered while others wrote
            some = [entry("receive", {"lot": "RC-%d-%d-%d" % (i, n, k), "heat": "H", "diameter_um": 5500, "length_mm": 10})
                    for k in range(10)]
            answer = requests.post(s.url + "/api/entries", data="\n".join(map(json.dumps, some)).encode(), timeout=PATIENCE,
                                   headers={"Content-Type": "application/x-ndjson"})
            assert answer.status_code == 201, answer.text
            sent.append(10)

    readers = [threading.Thread(target=read, args=(i,)) for i in range(3)]
    for r in readers:
        r.start()
    try:
        in_threads(8, write)
    finally:
        stop.set()
        for r in readers:
            r.join()
    assert s.api.trace("heat:H")["count"] == sum(sent) >= 1200
    print("readers: %d answers while others wrote, worst %.0f ms" % (len(worst), max(worst) * 1000))
    assert len(worst) > 30


def test_killed_and_started_again_nothing_acknowledged_is_missing(server_on, tmp_path):
    ledger = tmp_path / "kill.kw"
    acknowledged = {}
    rng = random.Random(4)
    for round_number in range(6):
        s = server_on(ledger)
        dead = threading.Event()

        def work(i, s=s, round_number=round_number, dead=dead):
            http = requests.Session()
            n = 0
            while not dead.is_set():
                key = new_key()
                e = entry("heat", {"heat": "H-%d-%d-%d" % (round_number, i, n), "supplier": "A", "grade": "B"}, key=key)
                n += 1
                try:
                    answer = http.post(s.url + "/api/entries", json=e, timeout=PATIENCE)
                except requests.RequestException:
                    return
                if answer.status_code == 201:
                    acknowledged[key] = answer.json()["seq"]

        threads = [threading.Thread(target=work, args=(i,)) for i in range(8)]
        for t in threads:
            t.start()
        had = len(acknowledged)
        assert eventually(lambda: len(acknowledged) > had + 8)
        time.sleep(rng.uniform(0, 0.5))
        s.stop(signal.SIGKILL)
        dead.set()
        for t in threads:
            t.join()
    s = server_on(ledger)
    stored = {}
    for line in s.api.leaves():
        e = json.loads(line)
        stored[e["key"]] = e["seq"]
    assert sorted(stored.values()) == list(range(1, len(stored) + 1))
    assert {k: stored.get(k) for k in acknowledged} == acknowledged
    # and one of them sent again is known
    key = next(iter(acknowledged))
    assert s.api.get("/api/entries/%d" % acknowledged[key])["key"] == key
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", ledger).returncode == 0


def test_sigterm_under_load_finishes_what_was_acknowledged(server_on, tmp_path):
    ledger = tmp_path / "term.kw"
    s = server_on(ledger)
    acknowledged = []

    def work(i):
        n = 0
        while True:
            e = entry("heat", {"heat": "T-%d-%d" % (i, n), "supplier": "A", "grade": "B"})
            n += 1
            try:
                answer = requests.post(s.url + "/api/entries", json=e, timeout=PATIENCE)
            except requests.RequestException:
                return
            if answer.status_code == 503:
                return
            assert answer.status_code == 201
            acknowledged.append(answer.json()["seq"])

    threads = [threading.Thread(target=work, args=(i,)) for i in range(8)]
    for t in threads:
        t.start()
    assert eventually(lambda: len(acknowledged) > 20)
    assert s.stop() == 0
    for t in threads:
        t.join()
    again = server_on(ledger)
    assert again.api.get("/api/ledger/head")["size"] >= max(acknowledged)
    again.stop()
