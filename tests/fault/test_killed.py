"""The daemon is killed, or asked to stop, while many clients send; and clients that vanish before they are answered."""
import json
import random
import signal
import socket
import struct
import time
from urllib.parse import urlsplit

from clients import Clients, Connection, heat, hold, stored
from conftest import LONG
from support import PATIENCE, eventually, run_cli

KILLS = 200 if LONG else 12
STOPS = 50 if LONG else 6
VANISHING = 10000 if LONG else 400


def send_again(s, clients):
    """What nobody answered for is sent again: each once in the ledger. (kept, new)"""
    before, _ = stored(s.api)
    connection = Connection(s.url)
    kept = new = 0
    for key in clients.unknown():
        status, body = connection.ask("POST", "/api/entries", clients.entries[key])
        assert status == (200 if key in before else 201), body
        assert before.get(key, body["seq"]) == body["seq"]
        kept += status == 200
        new += status == 201
        clients.history.append(type(clients.history[0])(-1, "append", key, 0, 0, 201, body))
    for key, seq in random.Random(len(before)).sample(sorted(clients.acknowledged().items()), 5):
        status, body = connection.ask("POST", "/api/entries", clients.entries[key])
        assert status == 200 and body["seq"] == seq, "the same key, the same number"
    connection.close()
    return kept, new


def test_killed_under_load(server_on, tmp_path):
    ledger = tmp_path / "killed.kw"
    acknowledged, asked, starts = {}, set(), []
    kept = new = 0
    dice = random.Random(5)
    for n in range(KILLS):
        t = time.monotonic()
        s = server_on(ledger)
        starts.append(time.monotonic() - t)
        clients = Clients(s, (8, 16, 32)[n % 3]).start()
        clients.recorded(20)
        time.sleep(dice.uniform(0, 0.4))
        s.stop(signal.SIGKILL)
        clients.join()
        s = server_on(ledger)
        asked |= set(clients.entries)
        hold(s.api, {**acknowledged, **clients.acknowledged()}, asked)
        more = send_again(s, clients)
        kept, new = kept + more[0], new + more[1]
        acknowledged.update(clients.acknowledged())
        s.stop(signal.SIGKILL)
    assert run_cli("verify", "--ledger", ledger).returncode == 0
    starts.sort()
    print("\nkilled: %d rounds, %d acknowledged, 0 lost; %d unanswered entries were there, %d were not and were sent again; "
          "start median %.0f ms, worst %.0f ms" % (KILLS, len(acknowledged), kept, new, starts[len(starts) // 2] * 1000, starts[-1] * 1000))
    assert len(acknowledged) >= KILLS * 20 and starts[-1] < PATIENCE


def test_stopped_under_load(server_on, tmp_path):
    ledger = tmp_path / "stopped.kw"
    acknowledged, asked, ends = {}, set(), []
    refused = unknown = 0
    for n in range(STOPS):
        s = server_on(ledger)
        clients = Clients(s, 16).start().recorded(50)
        t = time.monotonic()
        assert s.stop() == 0
        ends.append(time.monotonic() - t)
        clients.join()
        assert {a.status for a in clients.refused()} <= {503}, "refused otherwise than as stopping"
        refused += len(clients.refused())
        unknown += len(clients.unknown())
        acknowledged.update(clients.acknowledged())
        asked |= set(clients.entries)
    s = server_on(ledger)
    hold(s.api, acknowledged, asked)
    print("\nstopped: %d rounds, %d acknowledged, 0 lost; %d refused, %d without an answer; worst end %.1f s" % (
        STOPS, len(acknowledged), refused, unknown, max(ends)))
    assert max(ends) < PATIENCE
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", ledger).returncode == 0


def vanish(url, text, dice):
    """Send an entry and be gone, at once or a little later, without a word or with a reset."""
    address = urlsplit(url)
    with socket.create_connection((address.hostname, address.port)) as s:
        if dice.random() < 0.7:
            s.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        s.sendall(("POST /api/entries HTTP/1.1\r\nHost: %s\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%s" % (
            address.netloc, len(text), text)).encode())
        time.sleep(dice.choice((0, 0, 0.0005, 0.002)))


def at_rest(api):
    """Nobody is connected but whoever asks, and nothing waits to be recorded."""
    figures = dict(x.rsplit(" ", 1) for x in api.get("/metrics").text.splitlines() if not x.startswith("#"))
    return float(figures["kinwire_http_connections"]) <= 1 and float(figures["kinwire_queue"]) == 0


def test_clients_that_vanish(server_on, tmp_path):
    s = server_on(tmp_path / "vanished.kw")
    dice = random.Random(6)
    sent = {}
    for _ in range(VANISHING):
        e = heat()
        sent[e["key"]] = json.dumps(e)
        vanish(s.url, sent[e["key"]], dice)
    assert eventually(lambda: at_rest(s.api)), "what they left behind is never done with"
    before, _ = hold(s.api, {}, sent)
    connection = Connection(s.url)
    for key, text in sent.items():
        status, body = connection.ask("POST", "/api/entries", text)
        # one that was still on its way when the ledger was read may have been recorded since
        assert status == 200 if key in before else status in (200, 201), body
        assert body["seq"] == before.get(key, body["seq"])
    connection.close()
    there, _ = stored(s.api)
    assert set(there) == set(sent), "each once"
    print("\nvanished: %d clients, %d of their entries were recorded, each once; 0 twice" % (len(sent), len(before)))
    assert s.stop() == 0
    assert run_cli("verify", "--ledger", s.ledger).returncode == 0
