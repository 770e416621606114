"""What the scripts in bin/ say to whoever types them on a machine that is not ready for them."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command

from inventory.models import Entry, Item, Person

ROOT = Path(__file__).resolve().parent.parent
TOOLS = ["bash", "dirname", "basename", "mkdir", "cat", "cut", "tr", "grep", "sed", "sha256sum", "printf", "chmod"]


def run(*command: str, cwd: Path = ROOT, **env: str) -> subprocess.CompletedProcess[str]:
    unwanted = {"SECRET_KEY", "PUBLIC_URL", "ALLOWED_HOSTS", "LAN", "DATABASE_URL", "PYTHON"}
    kept = {name: value for name, value in os.environ.items() if name not in unwanted}
    return subprocess.run(command, cwd=cwd, env=kept | env, capture_output=True, text=True, timeout=60)


@pytest.fixture
def listening() -> Iterator[int]:
    """A port that something listens on."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        yield taken.getsockname()[1]


@pytest.fixture
def poor(tmp_path):
    """poor(python3="…"): a PATH of a bare machine where these commands are these scripts, and sudo asks for a word."""
    for tool in TOOLS:
        if found := shutil.which(tool):
            (tmp_path / tool).symlink_to(found)

    def path(**scripts: str) -> str:
        for name, script in {"id": "echo 1000", "sudo": "exit 1", **scripts}.items():
            (tmp_path / name.replace("_", "-")).write_text(f"#!/bin/bash\n{script}\n")
            (tmp_path / name.replace("_", "-")).chmod(0o755)
        return str(tmp_path)

    return path


def asked(function: str, path: str, tmp_path: Path) -> subprocess.CompletedProcess[str]:
    """One function of the scripts' own, under such a PATH."""
    return run("/bin/bash", "-c", f". bin/lib.sh; {function}", PATH=path, VAR_DIR=str(tmp_path / "var"))


@pytest.mark.parametrize("script", ["demo", "serve"])
def test_a_taken_port_is_said_with_another_to_take(script, listening, tmp_path):
    real = {"SECRET_KEY": "x" * 50, "PUBLIC_URL": "https://gear.example.org", "ALLOWED_HOSTS": "gear.example.org"}
    said = run(f"bin/{script}", "--port", str(listening), VAR_DIR=str(tmp_path), **real)
    assert said.returncode == 1
    assert f"Port {listening} is taken. Stop what listens there, or choose another: bin/{script}" in said.stderr
    assert f"--port {listening % 65535 + 1}" in said.stderr
    assert not list(tmp_path.glob("**/*.sqlite3"))


@pytest.mark.parametrize("port", ["many", "", "0", "70000", "99999999999"])
def test_what_is_no_port_is_said(port, tmp_path):
    said = run("bash", "-c", f". bin/lib.sh; need_free_port '{port}'", VAR_DIR=str(tmp_path))
    assert (said.returncode, "is no number of a port" in said.stderr) == (1, True)


@pytest.mark.parametrize("script", ["demo", "serve"])
def test_an_option_that_is_none_is_answered_with_those_there_are(script, tmp_path):
    said = run(f"bin/{script}", "--prot", "8001", VAR_DIR=str(tmp_path))
    assert said.returncode == 1
    assert said.stderr.startswith("Unknown option --prot. Options: ")
    assert "--port N" in said.stderr


def test_a_python_that_is_too_old_is_named_with_what_to_do(poor, tmp_path):
    old = poor(python3='if [ "$1" = --version ]; then echo Python 3.9.2; else exit 1; fi')
    said = asked("find_python", old, tmp_path)
    assert said.returncode == 1
    assert "needs Python 3.11, 3.12 or 3.13; found: Python 3.9.2." in said.stderr
    assert "apt-get install python3 python3-venv" in said.stderr


def test_the_newest_python_that_fits_is_taken(poor, tmp_path):
    both = poor(python3="exit 1", **{"python3.12": "exit 0"})
    assert asked("find_python", both, tmp_path).stdout == "python3.12\n"


def test_a_missing_system_library_comes_with_the_command_that_brings_it(poor, tmp_path):
    said = asked("need_print_libraries", poor(dpkg_query="exit 1"), tmp_path)
    assert said.returncode == 1
    assert "Missing system packages. Run this, then try again:" in said.stderr
    command = said.stderr.strip().splitlines()[-1].strip()
    assert command.startswith("sudo sh -c 'apt-get update && apt-get install -y --no-install-recommends libpango")
    assert "libharfbuzz-subset0" in command


def test_libraries_that_are_there_are_not_asked_for(poor, tmp_path):
    said = asked("need_print_libraries", poor(dpkg_query='echo "install ok installed"'), tmp_path)
    assert (said.returncode, said.stderr) == (0, "")


UBUNTU = 'printf "ID=ubuntu\\n" >$VAR_DIR/release; OS_RELEASE=$VAR_DIR/release; VENV=$VAR_DIR;'


def chromium(path: str, tmp_path: Path, *, playwright: str, python: str = "", before: str = "") -> tuple[str, str]:
    """What need_chromium says and chooses on an Ubuntu whose Playwright and Python are these scripts."""
    made = ""
    for name, script in {"playwright": playwright, "python": python}.items():
        made += f"mkdir -p $VENV/bin; printf '#!/bin/bash\\n{script}\\n' >$VENV/bin/{name}; chmod +x $VENV/bin/{name};"
    said = asked(f"{UBUNTU}{made}{before}need_chromium; echo $CHROMIUM", path, tmp_path)
    return said.stderr.strip(), said.stdout.strip()


def test_on_ubuntu_a_real_chromium_is_fetched(poor, tmp_path, monkeypatch):
    monkeypatch.delenv("CHROMIUM", raising=False)
    found = chromium(poor(), tmp_path, playwright="exit 0", python="echo /bin/bash")
    assert found == ("Fetching Chromium ...", "/bin/bash")


def test_a_chromium_that_cannot_be_fetched_is_said_with_what_to_do(poor, tmp_path, monkeypatch):
    monkeypatch.delenv("CHROMIUM", raising=False)
    said, chosen = chromium(poor(), tmp_path, playwright="exit 1")
    assert chosen == "" and "could not be fetched" in said and "CHROMIUM=/path bin/test" in said


def test_a_chromium_that_is_named_is_taken_on_ubuntu_too(poor, tmp_path):
    named = chromium(poor(), tmp_path, playwright="exit 1", before="CHROMIUM=/bin/bash;")
    assert named == ("", "/bin/bash")
    said, _ = chromium(poor(), tmp_path, playwright="exit 1", before="CHROMIUM=/no/such;")
    assert "No Chromium at '/no/such'" in said


def test_fonts_that_cannot_be_fetched_are_said_with_npms_own_words(poor, tmp_path):
    path = poor(npm="echo npm error no such host >&2; exit 1")
    said = asked("VENV=none; sha256sum() { echo another; }; install_front_end", path, tmp_path)
    assert (said.returncode, "no such host" in said.stderr) == (1, True)
    assert "Check the network, then try again." in said.stderr


@pytest.mark.parametrize("missing", ["SECRET_KEY", "PUBLIC_URL", "ALLOWED_HOSTS"])
def test_serving_for_real_names_the_setting_that_is_missing(missing, tmp_path):
    real = {"SECRET_KEY": "x" * 50, "PUBLIC_URL": "https://gear.example.org", "ALLOWED_HOSTS": "gear.example.org"}
    said = run("bin/serve", VAR_DIR=str(tmp_path), **{name: real[name] for name in real if name != missing})
    assert said.returncode == 1
    assert said.stderr.startswith(f"{missing} is not set. bin/serve is for real use; to look around, run bin/demo.")


def test_a_stamp_belongs_to_one_lock_file(tmp_path):
    """What bin/test installed besides leaves a later bin/demo nothing to install, and the other way round."""
    (tmp_path / "bin").mkdir()
    (tmp_path / "tests").mkdir()
    shutil.copy(ROOT / "bin/lib.sh", tmp_path / "bin")
    for name in ("requirements.txt", "tests/requirements.txt"):
        (tmp_path / name).write_text("nothing==1\n")
    script = (
        ". bin/lib.sh; mkdir .venv; find_python() { die INSTALLING; };"
        "touch $(python_stamp requirements.txt); install_python requirements.txt; say one;"
        "install_python requirements.txt tests/requirements.txt"
    )
    said = run("bash", "-c", script, cwd=tmp_path)
    assert said.stderr.split() == ["one", "INSTALLING"]


def test_a_second_demo_keeps_the_book_and_says_how_old_it_is(tonight, capsys):
    before = Entry.objects.count()
    newest = Entry.objects.order_by("received_at").last().received_at
    with time_machine.travel(newest + timedelta(days=2), tick=False):
        call_command("load_demo")
    said = capsys.readouterr().out
    assert Entry.objects.count() == before
    assert "The demo world is kept as it was; its newest entry is 2" in said
    assert [
        name for name in ("ida", "ana", "wes", "tomas", "jo") if f"sign in as {name} with password" not in said
    ] == []


def test_the_demo_is_not_loaded_over_a_book_of_somebodys(tonight):
    before = Item.objects.count()
    Person.objects.filter(name="Ida Penrake").update(name="Mara Sollis")
    with pytest.raises(CommandError, match="holds things already and is no demo"):
        call_command("load_demo")
    assert Item.objects.count() == before
