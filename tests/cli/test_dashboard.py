"""The dashboard is started for real: at once, asking nobody anything, on a machine where nothing was set up."""

import argparse
import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import contextmanager

import pytest
from browsing import free_port

from pairing import Bench
from pairing.cli import main
from pairing.cli.network import add_reach, reach

pytest.importorskip("streamlit")
START = [sys.executable, "-c", "from pairing.cli import main; raise SystemExit(main())", "dashboard"]
LOOKS = 600
"""How often, ten times a second, a test looks for what a process does."""


@pytest.fixture
def bench(tmp_path):
    Bench.create(tmp_path / "bench")
    return tmp_path / "bench"


@pytest.fixture
def outside():
    """Stand for all other machines: a proxy that notes who asks for what, and answers nothing."""
    asked = []
    with socket.create_server(("127.0.0.1", 0)) as server:

        def note():
            while True:
                try:
                    caller, _ = server.accept()
                except OSError:
                    return
                with caller:
                    asked.append(caller.recv(100))

        threading.Thread(target=note, daemon=True).start()
        yield f"http://127.0.0.1:{server.getsockname()[1]}", asked
        server.shutdown(socket.SHUT_RDWR)


@contextmanager
def running(bench, tmp_path, *words, **more):
    """Start it with an empty home folder, without a terminal, and with a browser that writes down what it opens."""
    home = tmp_path / "home"
    home.mkdir(exist_ok=True)
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\necho "$1" >> "{tmp_path}/opened"\n')
    browser.chmod(0o755)
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("STREAMLIT", "XDG", "DISPLAY", "WAYLAND"))}
    environment = {**kept, "HOME": str(home), "BROWSER": f"{browser} %s", **more}
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen(
            [*START, "--bench", str(bench), *words],
            cwd=tmp_path,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
    try:
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(30)


def wait_until(seen, process, tmp_path):
    for _ in range(LOOKS):
        if found := seen():
            return found
        if process.poll() is not None:
            break
        time.sleep(0.1)
    pytest.fail("it does not answer:\n" + (tmp_path / "log").read_text())


def opened(tmp_path):
    return (tmp_path / "opened").read_text().split() if (tmp_path / "opened").exists() else []


def answers(port):
    with socket.socket() as s:
        return not s.connect_ex(("127.0.0.1", port))


@pytest.mark.parametrize("address", ["localhost", "0.0.0.0"])
def test_it_starts_at_once_opens_the_browser_and_asks_nobody(bench, tmp_path, outside, address):
    proxy, asked = outside
    port = free_port()
    proxies = {f"{scheme}_proxy": proxy for scheme in ("http", "https", "all")}
    words = ["--address", address, "--port", str(port), *(["--open-to-everyone"] if address == "0.0.0.0" else [])]
    with running(bench, tmp_path, *words, **proxies) as process:
        assert wait_until(lambda: opened(tmp_path), process, tmp_path) == [f"http://localhost:{port}"]
        assert answers(port)
        time.sleep(1)  # what it would print or ask after it has begun to listen
    said = (tmp_path / "log").read_text()
    assert asked == []
    assert "mail" not in said
    assert "xternal" not in said
    assert f"is at http://localhost:{port}." in re.sub(r"\s+", " ", said)
    assert ("there is no key" in said) == (address == "0.0.0.0")
    assert [path.name for path in (tmp_path / "home").rglob("*") if "streamlit" in path.name] == []
    assert not answers(port), "the server ends with its command"


def test_headless_and_without_a_screen_no_browser_is_opened(bench, tmp_path):
    for words, more in ((["--headless"], {}), ([], {"BROWSER": ""})):
        port = free_port()
        with running(bench, tmp_path, "--port", str(port), *words, **more) as process:
            wait_until(lambda port=port: answers(port), process, tmp_path)
            time.sleep(0.5)
        assert opened(tmp_path) == []


def test_a_port_that_is_taken_is_named_and_nothing_is_opened(bench, tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with running(bench, tmp_path, "--port", str(port)) as process:
            assert process.wait(60) == 1
    assert f"something else is at localhost:{port} already" in (tmp_path / "log").read_text()
    assert opened(tmp_path) == []


def test_the_bench_and_the_plugins_that_were_chosen_reach_the_server(bench, monkeypatch, tmp_path, capsys):
    seen = {}

    def start(command, **options):
        seen.update(command=command, **options)
        return real([sys.executable, "-c", ""])

    real = subprocess.Popen
    monkeypatch.setattr(subprocess, "Popen", start)
    monkeypatch.chdir(tmp_path)
    assert main(["dashboard", "--bench", "bench", "--plugins", "curdling", "--headless"]) == 0
    assert seen["env"]["PAIRING_BENCH"] == str(bench)
    assert seen["env"]["PAIRING_PLUGINS"] == "curdling"
    capsys.readouterr()


def test_it_needs_a_bench_and_a_port(tmp_path, capsys):
    assert main(["dashboard", "--bench", str(tmp_path / "none")]) == 1
    assert "pairing init" in capsys.readouterr().err
    for port in ("0", "70000", "http", "-1"):
        with pytest.raises(SystemExit) as ended:
            main(["dashboard", "--bench", str(tmp_path), f"--port={port}"])
        assert ended.value.code == 2
        assert "is no port" in capsys.readouterr().err


@pytest.mark.parametrize("address", ["0.0.0.0", "::", "203.0.113.4", "boathouse.local"])
def test_others_reach_it_only_by_a_key_a_sign_in_or_when_that_is_written_out(bench, capsys, address):
    assert main(["dashboard", "--bench", str(bench), "--address", address, "--headless"]) == 1
    said = capsys.readouterr().err
    assert f"whoever reaches {address} could read and change this bench" in said
    assert all(way in said for way in ("--phones", "--sign-in", "--open-to-everyone"))


def test_what_shuts_and_what_opens_exclude_each_other(bench, capsys):
    assert main(["dashboard", "--bench", str(bench), "--phones", "--open-to-everyone"]) == 1
    assert "give one of them" in capsys.readouterr().err
    assert main(["dashboard", "--bench", str(bench), "--certificate", "cert.pem"]) == 1
    assert "--certificate-key" in capsys.readouterr().err


def status(address, path, port):
    line = http.client.HTTPConnection(address, port, timeout=30)
    line.request("GET", path)
    answer = line.getresponse()
    line.close()
    return answer.status


def test_phones_come_in_by_the_address_that_is_shown_and_by_no_other(bench, tmp_path):
    port = free_port()
    with running(bench, tmp_path, "--phones", "--address", "127.0.0.1", "--port", str(port)) as process:
        (url,) = wait_until(lambda: opened(tmp_path), process, tmp_path)
        said = re.sub(r"\s+", "", (tmp_path / "log").read_text())
        asked = url.removeprefix(f"http://127.0.0.1:{port}")
        assert re.fullmatch(r"/\?key=[\w-]{22}", asked), "128 bits"
        assert f"bench:{url}" in said
        assert status("127.0.0.1", "/", port) == 403
        assert status("127.0.0.1", "/app/static/icon.png", port) == 403
        assert status("127.0.0.1", asked, port) == 303


def test_every_start_has_a_key_of_its_own():
    parser = argparse.ArgumentParser()
    add_reach(parser)
    first, second = (reach(parser.parse_args(["--phones", "--address", "203.0.113.4"])) for _ in range(2))
    assert first.key != second.key
    assert first.phones_url == f"http://203.0.113.4:8501/?key={first.key}"
    assert {"203.0.113.4", "localhost"} <= set(first.hosts)
    assert "*" not in first.hosts


def test_behind_a_proxy_it_goes_by_the_name_that_is_given():
    parser = argparse.ArgumentParser()
    add_reach(parser)
    named = reach(parser.parse_args(["--host", "bench.boathouse.example"]))
    assert (named.address, "bench.boathouse.example" in named.hosts) == ("localhost", True)
