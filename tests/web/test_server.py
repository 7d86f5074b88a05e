"""Starting and stopping: this machine only, and cleanly."""

from __future__ import annotations

import socket
import threading

import pytest

from dictate.web.limits import Allowance
from dictate.web.routes import resources
from dictate.web.server import WebError, serve
from tests.web.small import Client, small_server


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.2", "example.org", "", "10.0.0.1"])
def test_anything_but_loopback_is_refused(host):
    with pytest.raises(WebError, match="this machine only"):
        serve([], host=host)


def test_the_server_listens_on_loopback_only(server):
    """A connection to another address of this machine is not taken."""
    own = socket.gethostbyname(socket.gethostname())
    if own.startswith("127."):
        pytest.skip("this machine has no address but loopback")
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection((own, server.port), timeout=5)


def test_a_port_that_is_taken_is_told_in_one_line(server):
    with pytest.raises(WebError, match=rf"^port {server.port} cannot be used .*; choose another[^\n]*$"):
        serve([], port=server.port)


@pytest.mark.parametrize("port", [-1, 65536])
def test_a_port_that_is_none_is_told_in_one_line(port):
    with pytest.raises(WebError, match="cannot be used"):
        serve([], port=port)


def test_a_given_port_is_used():
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    with serve([], port=port) as server:
        assert server.port == port


def test_a_short_token_is_refused():
    with pytest.raises(WebError, match="shorter than 22"):
        serve([], token="secret")


def test_two_servers_have_different_tokens(server):
    with small_server() as other:
        assert other.token != server.token


def test_after_stopping_nothing_answers_and_no_thread_is_left():
    server = small_server()
    Client(server).follow_link()
    server.stop()
    with pytest.raises(ConnectionRefusedError):
        Client(server).ask("/")
    assert "dictate-web" not in {thread.name for thread in threading.enumerate()}


def test_stopping_twice_does_nothing(server):
    server.stop()
    server.stop()


def test_a_file_that_is_not_in_the_package_is_noticed_at_the_start():
    with pytest.raises(FileNotFoundError):
        resources("dictate.web", {"/": "none.html"})


def test_a_file_of_another_kind_is_not_served():
    with pytest.raises(KeyError):
        resources("dictate.web", {"/": "server.py"})


def test_an_allowance_fills_again():
    now = [0.0]
    allowance = Allowance(per_s=2, burst=2, clock=lambda: now[0])
    taken = [allowance.take() for _ in range(3)]
    now[0] = 0.5
    assert [*taken, allowance.take(), allowance.take()] == [True, True, False, True, False]
