"""The structure, held: who may import whom, who may write what, and how long a function may get."""

from __future__ import annotations

import ast
from collections.abc import Collection, Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from statistics import median, quantiles

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("config", "inventory", "shipping")


def _files(*folders: str) -> Iterator[Path]:
    for folder in folders:
        found = sorted((ROOT / folder).rglob("*.py")) if (ROOT / folder).is_dir() else [ROOT / folder]
        yield from (path for path in found if "migrations" not in path.parts)


def _imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            yield node.module or ""
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def offenders(folder: str, forbidden: tuple[str, ...], allowed: tuple[str, ...] = ()) -> list[str]:
    """Files under folder that import something forbidden, save the allowed files."""
    found = set()
    for path in _files(folder):
        name = str(path.relative_to(ROOT))
        if name in allowed:
            continue
        for module in _imports(path):
            if any(module == word or module.startswith(f"{word}.") for word in forbidden):
                found.add(f"{name} imports {module}")
    return sorted(found)


def test_the_walk_sees_an_offence(tmp_path, monkeypatch):
    (tmp_path / "inventory").mkdir()
    (tmp_path / "inventory" / "bad.py").write_text("from shipping import models\n")
    monkeypatch.setattr("tests.test_architecture.ROOT", tmp_path)
    assert offenders("inventory", ("shipping",))


def test_inventory_does_not_know_shipping():
    assert offenders("inventory", ("shipping",)) == []


def _module(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _runs(tree: ast.AST) -> Iterator[ast.AST]:
    """Every node, wherever it stands, save what only the type checker reads."""
    for node in ast.iter_child_nodes(tree):
        if not (isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING"):
            yield node
            yield from _runs(node)


def _needs(path: Path, modules: Collection[str]) -> set[str]:
    """The modules a file takes something from; `from package import module` is a need of that module alone."""
    taken = [node for node in _runs(ast.parse(path.read_text())) if isinstance(node, ast.ImportFrom)]
    named = {(f"{node.module}.{alias.name}", node.module or "") for node in taken for alias in node.names}
    return {deep if deep in modules else module for deep, module in named} & set(modules) - {_module(path)}


def circle() -> list[str]:
    """Modules that need each other in a ring, at their start or later; none if there is no such ring."""
    paths = {_module(path): path for path in _files(*PACKAGES)}
    try:
        TopologicalSorter({name: _needs(path, paths) for name, path in paths.items()}).prepare()
    except CycleError as ring:
        return list(ring.args[1])
    return []


def test_no_modules_need_each_other_in_a_ring():
    assert circle() == []


def test_a_ring_is_seen_even_where_an_import_waits_inside_a_function(tmp_path, monkeypatch):
    (tmp_path / "inventory").mkdir()
    (tmp_path / "inventory" / "one.py").write_text("from inventory.two import x\n")
    (tmp_path / "inventory" / "two.py").write_text("def x():\n    from inventory import one\n    return one\n")
    monkeypatch.setattr("tests.test_architecture.ROOT", tmp_path)
    monkeypatch.setattr("tests.test_architecture.PACKAGES", ("inventory",))
    assert set(circle()) == {"inventory.one", "inventory.two"}


def test_models_do_not_import_domain_modules():
    known = ("inventory.models", "inventory.folding", "shipping.models")
    strangers = {
        f"{path.relative_to(ROOT)} imports {module}"
        for app in ("inventory", "shipping")
        for path in _files(f"{app}/models")
        for module in _imports(path)
        if module.split(".")[0] in {"inventory", "shipping"} and not module.startswith(known) and module != "inventory"
    }
    assert strangers == set()


def test_packing_is_pure():
    clocks = ("datetime.datetime.now", "time", "random")
    assert offenders("shipping/packing", ("django", "inventory", "shipping.models", "shipping.planning", *clocks)) == []


def test_answers_do_not_ask_the_clock():
    assert offenders("inventory/answers", ("django.utils.timezone.now", "time")) == []


def test_one_home_for_print_and_for_codes():
    for folder in PACKAGES:
        assert offenders(folder, ("weasyprint",), allowed=("inventory/pdf.py",)) == []
        assert offenders(folder, ("qrcode",), allowed=("inventory/labels.py",)) == []


WRITES = {"append", "create", "bulk_create", "get_or_create", "update_or_create"}


def _ledger_writes(path: Path) -> Iterator[str]:
    """Calls like Entry.objects.create(...), Holding.objects.filter(...).update(...), entry.save()."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            text = ast.unparse(node.func)
            if text.startswith(("Entry.objects", "Holding.objects")) and (
                node.func.attr in WRITES | {"update", "delete", "bulk_update"}
            ):
                yield f"{path.relative_to(ROOT)}:{node.lineno} {text}"


def test_only_the_ledger_writes_entries_and_holdings():
    home = {ROOT / "inventory/ledger.py", ROOT / "inventory/settling.py"}
    assert any(_ledger_writes(ROOT / "inventory/ledger.py")), "the check no longer sees the ledger's own writes"
    assert [line for path in _files(*PACKAGES) if path not in home for line in _ledger_writes(path)] == []


def _function_lengths() -> dict[str, int]:
    lengths = {}
    for path in _files(*PACKAGES):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                lengths[f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"] = node.end_lineno - node.lineno + 1
    return lengths


def test_functions_stay_short():
    lengths = _function_lengths()
    assert [f"{where} {length}" for where, length in lengths.items() if length > 60] == []
    assert median(lengths.values()) <= 8
    assert quantiles(lengths.values(), n=10)[-1] <= 30


def test_files_stay_short():
    long = {str(p.relative_to(ROOT)): n for p in _files(*PACKAGES) if (n := len(p.read_text().splitlines())) > 420}
    assert long == {}
