"""Attacks on the server are refused with the right status, and the page itself is not.

Statuses: RFC 9110 (403, 404, 405, 413, 421), RFC 6585 (429). What is attacked: OWASP Web Security Testing Guide
(session tokens, path traversal, cross-site requests), DNS rebinding, W3C Fetch Metadata.
"""

from __future__ import annotations

import socket
from dataclasses import replace

import pytest

from dictate.web.guard import HEADERS
from dictate.web.server import RunningServer
from tests.web.small import QUICK, Client, small_server


def test_the_link_gives_a_cookie_and_a_clean_address(stranger):
    reply = stranger.follow_link()
    assert (reply.status, reply.headers["location"]) == (303, "/")


def test_the_cookie_is_for_this_server_and_not_for_scripts_or_other_sites(stranger, server):
    cookie = stranger.follow_link().headers["set-cookie"]
    assert cookie.startswith(f"dictate-{server.port}=")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= {part.strip() for part in cookie.split(";")}


def test_the_cookie_is_another_secret_than_the_link(stranger, server):
    assert server.token not in stranger.follow_link().headers["set-cookie"]


def test_a_link_for_once_opens_the_page_once(stranger, server):
    """Options of a started program stand in the list of processes, which other users of the machine can read."""
    path = server.link_for_once("/number/7").removeprefix(server.address)
    assert server.token not in path
    assert [stranger.ask(path).status for _ in range(2)] == [303, 403]


def test_the_link_that_was_printed_still_opens_it_afterwards(stranger, server):
    stranger.ask(server.link_for_once().removeprefix(server.address))
    assert stranger.follow_link().status == 303


def test_the_rest_of_the_address_is_kept(stranger, server):
    reply = stranger.ask(f"/number/7?show=doubts&token={server.token}")
    assert reply.headers["location"] == "/number/7?show=doubts"


@pytest.mark.parametrize("path", ["//elsewhere.example", "/\\elsewhere.example", "/none", "/%2f%2felsewhere.example"])
def test_the_link_never_leads_elsewhere(stranger, server, path):
    assert stranger.ask(f"{path}?token={server.token}").headers["location"] == "/"


def test_the_right_cookie_passes(client):
    assert client.ask("/").status == 200


@pytest.mark.parametrize("name", ["localhost", "127.0.0.1", "[::1]", "LOCALHOST"])
def test_our_own_names_pass(client, server, name):
    assert client.ask("/", host=f"{name}:{server.port}").status == 200


@pytest.mark.parametrize("path", ["/", "/none", "/socket", "/faulty", "/wish"])
def test_nothing_is_answered_without_a_cookie(stranger, path):
    assert stranger.ask(path).status == 403


@pytest.mark.parametrize("token", ["x", "", "%C3%A9", "%FF", "%00", "A" * 43])
def test_a_wrong_token_is_refused(stranger, token):
    assert stranger.ask(f"/?token={token}").status == 403


def test_a_wrong_cookie_is_refused(server):
    assert Client(server, cookie=f"dictate-{server.port}={'A' * 43}").ask("/").status == 403


def test_the_link_is_no_cookie(server):
    assert Client(server, cookie=f"dictate-{server.port}={server.token}").ask("/").status == 403


def test_a_cookie_of_another_server_is_refused(client):
    with small_server() as other:
        assert Client(other, cookie=client.cookie).ask("/").status == 403


def test_wrong_tokens_are_counted(stranger, server):
    for _ in range(3):
        stranger.ask("/?token=wrong")
    assert server.refused["wrong_token"] == 3


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "elsewhere.example:{port}", "127.0.0.1", "127.0.0.1:1", "localhost.elsewhere.example:{port}", "0.0.0.0:{port}", ""]  # noqa: E501
)  # fmt: skip
def test_another_host_is_misdirected_even_with_the_cookie(client, server, host):
    assert client.ask("/", Host=host.format(port=server.port)).status == 421


def test_another_host_is_misdirected_even_with_the_link(stranger, server):
    assert stranger.ask(f"/?token={server.token}", host="elsewhere.example").status == 421


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", "https://127.0.0.1:{port}", "http://127.0.0.1:1", "http://localhost:{port}", ""])  # noqa: E501
def test_a_post_of_another_origin_is_refused(client, server, origin):
    assert client.post("/wish", {"text": "x"}, Origin=origin.format(port=server.port)).status == 403


def test_a_post_without_an_origin_is_refused(client):
    assert client.ask("/wish", method="POST", body="{}", Content_Type="application/json").status == 403


def test_a_post_of_the_page_passes(client):
    assert client.post("/wish", {"text": "x"}).text == '{"text":"x"}'


@pytest.mark.parametrize("site", ["cross-site", "same-site"])  # same-site: another program's page on this machine
def test_a_request_that_another_page_causes_is_refused(client, site):
    assert client.ask("/", Sec_Fetch_Site=site, Sec_Fetch_Mode="no-cors", Sec_Fetch_Dest="script").status == 403


def test_a_frame_in_another_page_is_refused(client):
    reply = client.ask("/", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode="navigate", Sec_Fetch_Dest="iframe")
    assert reply.status == 403


@pytest.mark.parametrize(
    "path",
    ["/../../etc/passwd", "/..%2f..%2fetc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/number/..%5c..%5cetc%5cpasswd%2f",
     "/....//etc/passwd", "/number/../../etc/passwd", "/live.css/../guard.py"],
)  # fmt: skip
def test_no_path_leads_to_a_file(client, path):
    reply = client.ask(path)
    assert "root:" not in reply.text and (reply.status == 404 or '"number"' in reply.text)


def test_a_large_body_is_refused(client):
    assert client.post("/wish", {"text": "x" * 3000}).status == 413


def test_a_large_body_of_unknown_length_is_refused(client):
    chunk = b"7d0\r\n" + b"x" * 2000 + b"\r\n"
    assert _chunked(client, chunk * 2 + b"0\r\n\r\n") == 413


def _chunked(client: Client, body: bytes) -> int:
    head = (
        f"POST /swallow HTTP/1.1\r\nHost: 127.0.0.1:{client.server.port}\r\nOrigin: {client.server.address}\r\n"
        f"Cookie: {client.cookie}\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", client.server.port), timeout=10) as connection:
        connection.sendall(head.encode() + body)
        return int(connection.recv(100).split()[1])


def test_a_body_that_is_not_said_to_be_json_is_refused(client):
    assert client.post("/wish", {"text": "x"}, Content_Type="text/plain").status == 400


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b'{"text": 1}', b"\xff\xfe"])
def test_a_body_that_does_not_fit_is_refused_with_one_line(client, body):
    reply = client.post("/wish", body)
    assert reply.status == 400 and reply.text.count("\n") == 1


def test_too_many_requests_are_refused():
    with small_server(replace(QUICK, requests_per_s=0.001, requests_burst=3)) as busy:
        client = Client(busy)
        client.follow_link()
        assert [client.ask("/").status for _ in range(4)] == [200, 200, 200, 429]


def test_who_is_refused_for_the_rate_is_told_when_to_come_again():
    with small_server(replace(QUICK, stranger_requests_per_s=0.5, stranger_requests_burst=1)) as busy:
        stranger = Client(busy)
        stranger.ask("/")
        assert int(stranger.ask("/").headers["retry-after"]) >= 1


def test_strangers_cannot_lock_out_the_page_or_the_link():
    with small_server(replace(QUICK, stranger_requests_per_s=0.001, stranger_requests_burst=1)) as busy:
        stranger, client = Client(busy), Client(busy)
        assert [stranger.ask("/").status for _ in range(3)] == [403, 429, 429]
        assert client.follow_link().status == 303 and client.ask("/").status == 200


def test_a_method_that_is_not_there_is_refused(client, server):
    assert client.ask("/", method="DELETE", Origin=server.address).status == 405


def test_a_fault_shows_nothing_of_the_inside(client):
    reply = client.ask("/faulty")
    assert reply.status == 500 and "secret" not in reply.text and "Traceback" not in reply.text


def test_bad_input_is_told_in_its_own_line(client):
    reply = client.ask("/unusable")
    assert (reply.status, reply.text) == (400, "the finding is gone; reload the page\n")


@pytest.mark.parametrize("path", ["/", "/none", "/faulty", "/unusable"])
def test_every_answer_has_the_headers(client, path):
    headers = client.ask(path).headers
    assert {name: headers.get(name.lower()) for name in HEADERS} == HEADERS


def test_a_refusal_has_the_headers_as_well(stranger):
    assert stranger.ask("/", host="elsewhere.example").headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "part", ["default-src 'none'", "script-src 'self';", "style-src 'self';", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"]  # noqa: E501
)  # fmt: skip
def test_the_policy_of_content_is_strict(client, part):
    policy = client.ask("/").headers["content-security-policy"]
    assert part in policy and "unsafe" not in policy


def test_the_policy_does_not_repeat_a_made_up_host(stranger):
    assert "elsewhere" not in stranger.ask("/", host="elsewhere.example").headers["content-security-policy"]


def test_the_link_holds_a_token_of_at_least_128_bits(server: RunningServer):
    assert len(server.token) >= 22 and server.url == f"http://127.0.0.1:{server.port}/?token={server.token}"
