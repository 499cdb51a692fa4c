"""The server as a process: its address, its folder, what it refuses, a large upload, and how it ends."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from harness import ROOT, run_siltmark

from screen.page.folder import Batch, default_folder

HEAD = "Sample,Station,Analyte,Result,Unit,Basis\n"


def ask(server, method="GET", path="/", body=None, **headers):
    """One request with exactly these headers besides what HTTP needs; status, headers and text."""
    port = int(server.root.rsplit(":", 1)[1])
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
    for name, value in {"Host": f"127.0.0.1:{port}", **headers}.items():
        line.putheader(name.replace("_", "-"), value)
    if body is not None:
        line.putheader("Content-Length", str(len(body)))
    line.endheaders(body)
    answer = line.getresponse()
    return answer.status, answer.headers, answer.read().decode()


def cookie(server):
    """The cookie that the first request gives."""
    _, headers, _ = ask(server, path="/?" + server.address.split("?")[1])
    return headers["Set-Cookie"].split(";")[0]


def multipart(name, content):
    """A form with one sheet, as a browser sends it."""
    edge = "edge-of-a-part"
    head = f'--{edge}\r\nContent-Disposition: form-data; name="sheets"; filename="{name}"\r\n\r\n'.encode()
    return head + content + f"\r\n--{edge}--\r\n".encode(), f"multipart/form-data; boundary={edge}"


def test_refusals_and_an_upload_of_50_mb(server):
    port = server.root.rsplit(":", 1)[1]
    assert ask(server)[0] == 403
    held = {"Cookie": cookie(server)}
    assert ask(server, **held)[0] == 200
    assert ask(server, **held, Host="siltmark.example")[0] == 403
    form = {"Content_Type": "application/x-www-form-urlencoded", **held}
    for elsewhere in ({"Origin": "http://siltmark.example"}, {"Sec_Fetch_Site": "cross-site"}, {}):
        assert ask(server, "POST", "/new", b"name=A", **form, **elsewhere)[0] == 403
    assert ask(server, "POST", "/new", b"name=A", **form, Origin=f"http://127.0.0.1:{port}")[0] == 303
    rows = "".join(f"P-{n},S{n},Lead,{n % 300},mg/kg,dry\n" for n in range(2_000_000))
    content = (HEAD + rows).encode()[:50_000_000].rsplit(b"\n", 1)[0] + b"\n"
    content += b" " * (50_000_000 - len(content))
    body, kind = multipart("fifty.csv", content)
    sent = ask(server, "POST", "/b/A/sheets", body, Content_Type=kind, Sec_Fetch_Site="same-origin", **held)
    assert sent[0] == 303, sent
    kept = Batch(server.folder / "A").files("sheets")
    assert [(one.name, one.stat().st_size) for one in kept] == [("fifty.csv", 50_000_000)]
    assert kept[0].read_bytes() == content


def wait_for(there, seconds=120.0):
    """Wait until something holds."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if there():
            return True
        time.sleep(0.05)
    return False


def running(server):
    """A run that has begun and takes some seconds."""
    held = {"Cookie": cookie(server), "Sec_Fetch_Site": "same-origin"}
    ask(server, "POST", "/new", b"name=A", Content_Type="application/x-www-form-urlencoded", **held)
    names = ["Lead", "Zinc", "Copper", "Nickel", "Arsenic", "Cadmium", "Mercury", "Chromium"]
    rows = "".join(f"P-{n},S{n},{name},{n % 300},mg/kg,dry\n" for n in range(12_000) for name in names)
    body, kind = multipart("large.csv", (HEAD + rows).encode())
    assert ask(server, "POST", "/b/A/sheets", body, Content_Type=kind, **held)[0] == 303
    assert ask(server, "POST", "/b/A/runs", b"", **held)[0] == 303
    progress = lambda: json.loads(ask(server, path="/b/A/runs/1/progress", **held)[2])  # noqa: E731
    return Batch(server.folder / "A"), progress


def left_of(batch):
    return sorted(one.name for one in batch.folder.iterdir() if one.name not in ("sheets", "field", "sets"))


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs signals of POSIX")
@pytest.mark.parametrize("moment", ["", "making sums", "writing"])
def test_a_killed_server_leaves_no_half_run(server, moment):
    """Killed at once, or when the run says that it does something; a quick step may go unsaid, a later one then is."""
    batch, progress = running(server)
    if moment:
        assert wait_for(lambda: any(step.startswith((moment, "writing")) for step in progress()["steps"]))
    assert not batch.run(1).whole
    server.process.send_signal(signal.SIGKILL)
    server.process.wait(30)
    assert wait_for(lambda: left_of(batch) == ["run-1.toml", "settings.toml"]), left_of(batch)
    time.sleep(1)
    assert left_of(batch) == ["run-1.toml", "settings.toml"]


def test_stopping_ends_a_run_and_the_server(server):
    batch, progress = running(server)
    assert wait_for(lambda: progress()["steps"])
    status, _, text = ask(server, "POST", "/stop", b"", Cookie=cookie(server), Sec_Fetch_Site="same-origin")
    assert status == 200
    assert "Siltmark has stopped" in text
    assert server.process.wait(30) == 0
    assert "Stopped." in server.process.stderr.read()
    assert left_of(batch) == ["run-1.log", "run-1.toml", "settings.toml"]


def test_ctrl_c_stops_it(server):
    server.process.send_signal(signal.SIGINT)
    assert server.process.wait(30) == 0
    assert server.process.stderr.read().endswith("Stopped.\n")


def test_it_listens_on_this_machine_only(server):
    port = int(server.root.rsplit(":", 1)[1])
    other = next((one for one in _own_addresses() if not one.startswith("127.")), None)
    if other is None:
        pytest.skip("this machine has no other address")
    with pytest.raises(OSError):
        http.client.HTTPConnection(other, port, timeout=5).request("GET", "/")


def _own_addresses():
    import socket

    try:
        return sorted({str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)})
    except OSError:
        return []


def test_a_port_that_is_taken(server, tmp_path):
    port = server.root.rsplit(":", 1)[1]
    done = run_siltmark("page", "--no-browser", "--folder", tmp_path / "other", "--port", port)
    assert done.status == 2
    assert f"port {port} cannot be listened on" in done.stderr
    assert done.stdout == ""


def test_a_folder_that_is_a_file(tmp_path):
    (tmp_path / "file").touch()
    done = run_siltmark("page", "--no-browser", "--folder", tmp_path / "file" / "below")
    assert done.status == 2
    assert "cannot be used to keep files in" in done.stderr


def test_the_default_folder_is_below_the_documents(monkeypatch, tmp_path):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    assert default_folder() == tmp_path / "Siltmark"
    (tmp_path / "Documents").mkdir()
    assert default_folder() == tmp_path / "Documents" / "Siltmark"
    (tmp_path / ".config").mkdir()
    (tmp_path / ".config" / "user-dirs.dirs").write_text('XDG_DOCUMENTS_DIR="$HOME/Papiere"\n')
    (tmp_path / "Papiere").mkdir()
    assert default_folder() == tmp_path / "Papiere" / "Siltmark"


def no_home():
    raise RuntimeError("Could not determine home directory.")


@pytest.mark.parametrize("home", [no_home, lambda: Path("/"), lambda: Path()], ids=["unknown", "root", "empty"])
def test_without_a_home_it_asks_for_a_folder(monkeypatch, home):
    monkeypatch.setattr(Path, "home", home)
    done = run_siltmark("page", "--no-browser")
    assert done.status == 2
    assert "Name a folder with --folder" in done.stderr


def test_help_does_not_load_the_server():
    code = (
        "import sys; from screen.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({'flask', 'waitress', 'pandas', 'jinja2'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, encoding="utf-8", env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    assert done.stdout.splitlines()[-1] == "[]"
