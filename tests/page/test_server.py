"""Who gets into the server of the page, on a real loopback socket, and what it serves.

Host and Origin: RFC 9110 section 7.2, RFC 6454, RFC 6455 section 10.2.
"""

import threading
import time
from typing import Any

import httpx
import pytest
from websockets.exceptions import InvalidStatus

from leafwinch_host.page import app as app_module
from leafwinch_host.page.app import Server, listening, serve
from leafwinch_sim.site import load_site
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from tests.page.browser import PATIENCE_S, entering, get, raw

# --- who gets in ---------------------------------------------------------------------


def test_it_listens_on_loopback_only_and_gives_the_page_with_the_token(server: Server) -> None:
    assert server.socket.getsockname()[0] == "127.0.0.1"
    answer = httpx.get(server.url, trust_env=False)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/html")
    assert "default-src 'self'" in answer.headers["content-security-policy"]
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["cache-control"] == "no-store"
    assert "://" not in answer.text.replace("http://www.w3.org", "")  # nothing from elsewhere


def test_tokens_are_long_and_differ() -> None:
    site = load_site("boat-slip")
    net = load_netlist(site.wiring)
    tokens = set()
    for _ in range(2):
        one = Server(site, net)
        one.socket.close()
        tokens.add(one.token)
    assert len(tokens) == 2
    assert all(len(token) >= 32 for token in tokens)


@pytest.mark.parametrize("path", ["/", "/trace.csv", "/drawing/circuit.svg", "/none", "/docs"])
@pytest.mark.parametrize("token", ["", "?token=", "?token=x", "?token=%00", "?other=1"])
def test_without_the_token_nothing_is_given(server: Server, path: str, token: str) -> None:
    assert get(server, path + token).status_code == 403


def test_a_doubled_token_is_refused(server: Server) -> None:
    assert get(server, f"/?token={server.token}&token={server.token}").status_code == 403


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example:{port}", ""]
)
def test_a_foreign_host_is_refused(server: Server, host: str) -> None:
    # A name that an attacker lets point to 127.0.0.1 shows up here and nowhere else.
    sent = host.format(port=server.port)
    path = f"/?token={server.token}"
    assert " 421 " in raw(server, f"GET {path} HTTP/1.1\r\nHost: {sent}\r\n\r\n") + " "


def test_two_hosts_or_none_are_refused(server: Server) -> None:
    good = f"Host: 127.0.0.1:{server.port}\r\n"
    begin = f"GET /?token={server.token} HTTP/1.1\r\n"
    assert " 200 " in raw(server, f"{begin}{good}\r\n")
    for hosts in ("", good + good, good + "Host: evil.example\r\n"):
        status = raw(server, f"{begin}{hosts}\r\n")
        assert " 421 " in status + " " or " 400 " in status + " "


def test_localhost_is_the_same_machine(server: Server) -> None:
    answer = get(server, f"/?token={server.token}", Host=f"localhost:{server.port}")
    assert answer.status_code == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:{port}"])
def test_a_foreign_origin_is_refused(server: Server, origin: str) -> None:
    sent = origin.format(port=server.port)
    assert get(server, f"/?token={server.token}", Origin=sent).status_code == 403
    with pytest.raises(InvalidStatus) as refused:
        entering(server, f"?token={server.token}", sent)
    assert refused.value.response.status_code == 403


@pytest.mark.parametrize("token", ["", "?token=x"])
def test_a_websocket_without_token_is_refused(server: Server, token: str) -> None:
    with pytest.raises(InvalidStatus) as refused:
        entering(server, token)
    assert refused.value.response.status_code == 403


def test_a_websocket_without_origin_is_refused(server: Server) -> None:
    with pytest.raises(InvalidStatus) as refused:
        entering(server, f"?token={server.token}", None)
    assert refused.value.response.status_code == 403


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "TRACE"])
def test_the_server_is_only_read_from(server: Server, method: str) -> None:
    answer = httpx.request(method, server.url, trust_env=False)
    assert answer.status_code == 405


# --- paths ---------------------------------------------------------------------------

TRICKS = (
    "/../pyproject.toml",
    "/static/../app.py",
    "/static/..%2fapp.py",
    "/static/%2e%2e/app.py",
    "/static/..\\app.py",
    "/static//etc/passwd",
    "//etc/passwd",
    "/static/app.py",
    "/static/.hidden.js",
    "/static/x.js%00.css",
    "/static/a/b.js",
    "/static/CON.js",
    "/static/" + "a" * 5000 + ".js",
    "/static/none.js",
    "/drawing/../bench",
    "/drawing/circuit.svg/..",
    "/openapi.json",
    "/docs",
    "/.git/config",
)


@pytest.mark.parametrize("path", TRICKS)
def test_path_tricks_find_nothing(server: Server, path: str) -> None:
    request = f"GET {path}?token={server.token} HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n\r\n"
    assert " 404 " in raw(server, request) + " "


def test_a_static_file_is_served_without_token_and_nothing_beside_it(
    server: Server, tmp_path: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "static"
    folder.mkdir()
    (folder / "deck.js").write_text("export const leaves = 2;\n")
    (folder / "notes.txt").write_text("not for pages\n")
    (tmp_path / "outside.js").write_text("outside\n")
    monkeypatch.setattr(app_module, "STATIC", folder)
    answer = get(server, "/static/deck.js")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/javascript")
    assert answer.text == "export const leaves = 2;\n"
    assert get(server, "/static/notes.txt").status_code == 404
    assert get(server, "/static/outside.js").status_code == 404
    assert get(server, "/static/").status_code == 404


@pytest.mark.parametrize("sheet", ["0", "-1", "99", "x", "1.5", "%31%00", "²"])
def test_sheets_that_are_not_there(server: Server, sheet: str) -> None:
    answer = get(server, f"/drawing/circuit.svg?sheet={sheet}&token={server.token}")
    assert answer.status_code in (404, 422)


def test_the_circuit_is_drawn(server: Server) -> None:
    path = f"/drawing/circuit.svg?token={server.token}"
    first = get(server, path)
    assert first.headers["content-type"].startswith("image/svg+xml")
    assert first.text.startswith("<svg")
    assert 'data-contact="' in first.text
    assert get(server, f"{path}&sheet=2").text != first.text


# --- serving -------------------------------------------------------------------------


def test_a_port_that_is_taken_is_told_in_one_sentence() -> None:
    with listening(0) as taken:
        taken.listen()
        with pytest.raises(BadInput, match="can't be used"):
            listening(taken.getsockname()[1])


def test_serve_tells_its_address_and_opens_it(monkeypatch: pytest.MonkeyPatch) -> None:
    site = load_site("boat-slip")
    opened: list[str] = []
    told: list[str] = []

    def look(url: str) -> bool:
        opened.append(url)
        return True

    def tell(url: str) -> None:
        told.append(url)
        assert httpx.get(url, trust_env=False).status_code == 200

    monkeypatch.setattr("webbrowser.open", look)
    monkeypatch.setattr(Server, "__enter__", _entered_for_a_moment)
    serve(site, load_netlist(site.wiring), tell=tell)
    until_s = time.monotonic() + PATIENCE_S
    while not opened and time.monotonic() < until_s:
        time.sleep(0.01)
    assert opened == told


ENTER = Server.__enter__


def _entered_for_a_moment(self: Server) -> Server:
    """Start as always, and stop a second later as if interrupted."""
    found = ENTER(self)
    threading.Timer(1.0, lambda: setattr(self.server, "should_exit", True)).start()
    return found
