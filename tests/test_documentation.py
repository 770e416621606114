"""The documents name what there is, and nothing that is not there."""

from __future__ import annotations

import re
from pathlib import Path

from inventory.answers.registry import names
from inventory.models import SetAside
from shipping.packing.rules import RULES

ROOT = Path(__file__).resolve().parent.parent
README, DEVELOPERS = (ROOT / "README.md").read_text(), (ROOT / "DEVELOPERS.md").read_text()


def test_every_setting_is_in_the_readme():
    text = (ROOT / "config/settings.py").read_text()
    read = set(re.findall(r'(?:environ\.get|env_flag|env_list|env_number)\(\s*"([A-Z_]+)"', text))
    assert len(read) > 8
    assert {name for name in read if f"`{name}`" not in README} == set()


def test_every_rule_is_named_and_no_other():
    listed = DEVELOPERS.split("## Rules in force")[1].split("##")[0]
    assert {name.strip() for name in listed.strip().rstrip(".").split(",")} == set(RULES)


def test_every_command_is_named_and_no_other():
    here = {
        p.stem
        for app in ("config", "inventory", "shipping")
        for p in (ROOT / app / "management/commands").glob("[a-z]*.py")
    }
    listed = set(re.findall(r"[a-z_]{4,}", DEVELOPERS.split("## Commands")[1].strip().split("\n\n")[0]))
    assert listed == here


def test_every_answer_is_a_command_in_the_readme():
    assert [name for name in names() if f"`{name}`" not in README and f"manage.py {name}" not in README] == []


def test_what_a_scan_is_told_is_named():
    words = {"good", "already done", "wrong", "unknown", *SetAside.Why.values}
    told = DEVELOPERS.split("What a scan is told")[1].split("##")[0]
    assert {word for word in words if word not in told} == set()


def test_every_place_named_is_there():
    named = re.findall(r"`([a-z_]+(?:/[a-z_.-]*)*)`", DEVELOPERS)
    named += re.findall(r"\((docs/[a-z_.]+)\)", README)
    bases = (ROOT, ROOT / "inventory")
    gone = [name for name in named if "/" in name and not any((base / name).exists() for base in bases)]
    assert gone == []
    assert "docs/today.png" in named


def test_versions_agree():
    wanted = re.search(r'"django>=([\d.]+)', (ROOT / "pyproject.toml").read_text())[1]
    locked = re.search(r"^django==([\d.]+)", (ROOT / "requirements.txt").read_text(), re.M)[1]
    assert locked.startswith(wanted)


def test_no_lock_names_an_address():
    for name in ("requirements.txt", "tests/requirements.txt", "package-lock.json"):
        assert "://" not in (ROOT / name).read_text(), name
