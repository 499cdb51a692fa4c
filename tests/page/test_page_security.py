"""Who may ask the page for what: token, host and origin, headers, names of files, sizes."""

from __future__ import annotations

import io

import pytest

from screen.page.names import plain_name
from screen.page.security import report_policy
from screen.page.shared import LIMIT_MB

HERE = "http://127.0.0.1:8123"
PATHS = ["/", "/static/page.js", "/b/any/sheets", "/b/any/runs/1/report", "/favicon.ico"]


def bare(site, host):
    """The start as a client asks for it that sets its own Host, with the token."""
    client = site.client.application.test_client(use_cookies=False)
    return client.get("/", headers={"Host": host, "Cookie": "siltmark-8123=the-token-of-this-test"})


@pytest.mark.parametrize("path", PATHS)
def test_nothing_without_the_token(site, path):
    site.client.delete_cookie("siltmark-8123", domain="127.0.0.1")
    answer = site.get(path)
    assert answer.status_code == 403
    assert answer.content_type.startswith("text/plain")


@pytest.mark.parametrize("token", ["", "wrong", "the-token-of-this-tes", "the-token-of-this-test2"])
def test_a_wrong_token_in_the_address(site, token):
    site.client.delete_cookie("siltmark-8123", domain="127.0.0.1")
    assert site.get(f"/?token={token}").status_code == 403


def test_the_token_goes_from_the_address_into_a_strict_cookie(site):
    site.client.delete_cookie("siltmark-8123", domain="127.0.0.1")
    answer = site.get("/?token=the-token-of-this-test")
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert site.get("/").status_code == 200


def test_the_token_opens_the_start_only(site):
    site.client.delete_cookie("siltmark-8123", domain="127.0.0.1")
    assert site.get("/static/page.js?token=the-token-of-this-test").status_code == 403


@pytest.mark.parametrize(
    "host",
    [
        "example.org",
        "127.0.0.1",
        "localhost",
        "127.0.0.1:8124",
        "127.0.0.1:8123.example.org",
        "LOCALHOST:8123 ",
        "[::1]:8123",
        "0.0.0.0:8123",
    ],
)
def test_a_foreign_host_is_refused(site, host):
    answer = bare(site, host)
    assert answer.status_code == 403
    assert "answers to 127.0.0.1 and localhost only" in answer.get_data(as_text=True)


@pytest.mark.parametrize("host", ["127.0.0.1:8123", "localhost:8123"])
def test_its_own_two_hosts_are_served(site, host):
    assert bare(site, host).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://example.org"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:8124"},
        {"Origin": "https://127.0.0.1:8123"},
        {"Origin": "http://localhost:8123"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
        {"Origin": HERE, "Sec-Fetch-Site": "cross-site"},
        {"Origin": "http://example.org", "Sec-Fetch-Site": "same-origin"},
    ],
)
@pytest.mark.parametrize("path", ["/new", "/stop"])
def test_a_post_from_elsewhere_does_nothing(site, headers, path):
    assert site.post(path, {"name": "A"}, headers=headers).status_code == 403
    assert site.workspace.batches() == []
    assert not site.stopped.is_set()


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": HERE},
        {"Origin": HERE, "Sec-Fetch-Site": "same-origin"},
        {"Origin": "null", "Sec-Fetch-Site": "same-origin"},
        {"Sec-Fetch-Site": "same-origin"},
    ],
)
def test_a_post_of_ours_is_done(site, headers):
    assert site.post("/new", {"name": "A"}, headers=headers).status_code == 303
    assert [one.name for one in site.workspace.batches()] == ["A"]


@pytest.mark.parametrize("path", ["/", "/static/page.css", "/nothing", "/b/none/sheets"])
def test_headers_of_every_answer(site, path):
    headers = site.get(path).headers
    policy = headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; style-src 'self'; script-src 'self';")
    assert "unsafe" not in policy
    assert "http:" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Cache-Control"] == "no-store"
    assert "Server" not in headers


def test_the_policy_of_a_report_lets_only_its_own_style_and_script_run():
    # the hashes of "a{}" and "1" by openssl dgst -sha256 -binary | openssl base64
    policy = report_policy("<style>a{}</style><script>1</script>")
    assert "style-src 'sha256-X1RutGBrXCt9KkSaXMK7tHftWiRscFHOhxsS8tv8hBk=';" in policy
    assert "script-src 'sha256-a4ayc/80/OGda4BO/1o/V0etpOqiLx1JwB5S3beHW0s=';" in policy
    assert "sandbox allow-scripts" in policy
    assert "allow-same-origin" not in policy


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("lab.xlsx", "lab.xlsx"),
        ("../../etc/passwd", "passwd"),
        ("..\\..\\boot.ini", "boot.ini"),
        ("C:\\sheets\\lab A.csv", "lab A.csv"),
        ("Größe.csv", "Größe.csv"),
        (".hidden.csv", "hidden.csv"),
        ("a\x00b\n\u202ecsv.exe", "abcsv.exe"),
        ("con.csv", "_con.csv"),
        ("  two   blanks .csv", "two blanks.csv"),
        ('a<b>:"|?*.csv', "ab.csv"),
        ("..", ""),
        ("", ""),
        ("///", ""),
    ],
)
def test_names_of_files(given, kept):
    assert plain_name(given) == kept


def test_a_name_of_any_length_fits_a_file_system():
    assert len(plain_name("ü" * 500 + ".xlsx").encode()) <= 120
    assert plain_name("ü" * 500 + ".xlsx").endswith(".xlsx")


def test_an_upload_stays_in_its_folder_and_is_never_served(site):
    site.post("/new", {"name": "A"})
    page = b"<script>alert(1)</script>"
    site.post("/b/A/sheets", {"sheets": [(io.BytesIO(page), "../../../evil.html")]})
    assert [one.name for one in site.workspace.batch("A").files("sheets")] == ["evil.html"]
    for path in ("/b/A/sheets/evil.html", "/sheets/evil.html", "/static/../kept/A/sheets/evil.html"):
        assert site.get(path).status_code in (404, 405)
    assert page not in site.understood("A").encode()


@pytest.mark.parametrize("name", ["..", "%2e%2e", "..%2f..", "/etc", "A/../A", "."])
def test_a_batch_outside_the_folder_is_not_found(site, name):
    (site.workspace.folder.parent / "settings.toml").write_text("")
    assert site.get(f"/b/{name}/sheets").status_code in (404, 308)


@pytest.mark.parametrize("key", ["../settings", "..%2frun-1.toml", "nothing", "settings.toml"])
def test_only_the_files_of_the_list_can_be_fetched(site, key):
    batch = site.workspace.new_batch("A", "")
    batch.new_run("")
    assert site.get(f"/b/A/runs/1/get/{key}").status_code == 404


def test_an_upload_over_the_limit_is_refused_in_words(site):
    site.post("/new", {"name": "A"})
    site.client.application.config["MAX_CONTENT_LENGTH"] = 1000
    answer = site.post("/b/A/sheets", {"sheets": [(io.BytesIO(b"x" * 2000), "lab.csv")]})
    assert answer.status_code == 413
    assert f"larger than {LIMIT_MB} MB" in answer.get_data(as_text=True)
    assert site.workspace.batch("A").files("sheets") == []


def test_hostile_texts_are_shown_as_text(site, tmp_path):
    hostile = "<img src=x onerror=alert(1)>{{7*7}}"
    path = tmp_path / "lab.csv"
    path.write_text(f'Sample,Analyte,Result,Unit,Basis\n"{hostile}","{hostile}",1,mg/kg,dry\nB,Lead,2,mg/kg,dry\n')
    site.add("A", sheets=[path])
    text = site.understood("A")
    assert "<img" not in text
    assert "&lt;img src=x onerror=alert(1)&gt;{{7*7}}" in text
