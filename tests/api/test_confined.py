"""The daemon in its sandbox, looked at from outside; and who may run it."""
import os
import re
import subprocess
from pathlib import Path

import pytest

from support import KINWIRE, PATIENCE, Server, run_cli


def status_of(task):
    return dict(re.findall(r"^(\w+):\s*(.*)$", (task / "status").read_text(), re.M))


def tasks(server):
    return sorted(Path("/proc/%d/task" % server.process.pid).iterdir())


def can(server):
    """Whether the sandbox is there on this kernel and in this build."""
    return status_of(tasks(server)[0])["Seccomp"] == "2"


def test_every_thread_is_restricted(server_on, tmp_path):
    s = server_on(tmp_path / "a.kw")
    if not can(s):
        pytest.skip("no sandbox on this kernel, or in this build")
    s.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
    assert s.api.get("/api/ledger/verify")["ok"] is True  # begins a thread, and works with temporary files
    seen = [status_of(t) for t in tasks(s)]
    assert len(seen) >= 6, "the library's threads, the writer, the reaper and the main one"
    assert {x["Seccomp"] for x in seen} == {"2"} and {x["NoNewPrivs"] for x in seen} == {"1"}
    assert s.stop() == 0


def test_off_is_off(server_on, tmp_path):
    s = server_on(tmp_path / "a.kw", "--sandbox", "off")
    assert {status_of(t)["NoNewPrivs"] for t in tasks(s)} == {"0"}


@pytest.mark.parametrize("sandbox,want", [("off", 200), ("must", 404)])
def test_a_way_out_of_the_pages_folder_leads_nowhere(server_on, tmp_path, sandbox, want):
    """A folder of pages with a link to a folder outside of it; the same without the sandbox, to see that it is the sandbox."""
    web, secret = tmp_path / "pages", Path("/etc")
    web.mkdir()
    (web / "index.html").write_text("<p>page")
    (web / "out").symlink_to(secret)
    if sandbox == "must":
        probe = Server(tmp_path / "probe.kw")
        there = can(probe)
        probe.stop()
        if not there:
            pytest.skip("no sandbox on this kernel, or in this build")
    s = server_on(tmp_path / "a.kw", "--web", str(web), "--sandbox", sandbox)
    assert s.api.session.get(s.url + "/").status_code == 200
    assert s.api.session.get(s.url + "/out/passwd").status_code == want


def test_a_report_and_labels_are_made_inside(server_on, tmp_path, bench=None):
    s = server_on(tmp_path / "a.kw")
    s.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
    s.api.put("receive", {"lot": "L1", "heat": "H1", "diameter_um": 5500, "length_mm": 1000})
    for path, start in (("/api/export?origin=lot:L1&as=report", b"%PDF"), ("/api/export?origin=lot:L1&as=pack", b"PK"),
                        ("/api/labels?lots=L1&as=pdf&size=100x60", b"%PDF")):
        answer = s.api.session.get(s.url + path)
        assert answer.status_code == 200 and answer.content.startswith(start), (path, answer.content[:200])


def test_a_ledger_that_is_a_link(server_on, tmp_path):
    disk, place = tmp_path / "disk", tmp_path / "place"
    disk.mkdir()
    place.mkdir()
    first = server_on(disk / "mill.kw")
    first.api.put("heat", {"heat": "H1", "supplier": "A", "grade": "B"})
    first.stop()
    (place / "mill.kw").symlink_to(disk / "mill.kw")
    s = server_on(place / "mill.kw")
    s.api.put("heat", {"heat": "H2", "supplier": "A", "grade": "B"})
    assert s.api.get("/api/ledger/head")["size"] == 2 and s.stop() == 0


def test_root_is_told_no(tmp_path):
    args = ["serve", "--ledger", str(tmp_path / "a.kw"), "--listen", "127.0.0.1:0"]
    if os.geteuid() != 0:
        pytest.skip("only root can be root")
    done = run_cli(*args)
    assert done.returncode == 2 and "root" in done.stderr and not (tmp_path / "a.kw").exists()
    p = subprocess.Popen([KINWIRE, *args, "--as-root"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert p.stdout.readline().startswith("kinwire: http://")
    p.terminate()
    assert p.wait(PATIENCE) == 0
    p.stdout.close()
    p.stderr.close()


def test_a_sandbox_that_is_none(tmp_path):
    done = run_cli("serve", "--ledger", tmp_path / "a.kw", "--listen", "127.0.0.1:0", "--open", "--sandbox", "maybe")
    assert done.returncode == 2 and "--sandbox" in done.stderr
