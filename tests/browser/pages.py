"""Which pages are looked at, and as whom. Add a row here for a new page: (role, name or address)."""

from __future__ import annotations

from inventory.models import Role
from inventory.views.acts import ACTS
from inventory.views.drive_acts import ACTS as DRIVE_ACTS
from tests.test_access import ROWS

# These hand out a file, not a page.
SHEETS = {f"{name}-{form}" for name in ("import", "border", "case", "show") for form in ("csv", "xlsx")}
FILES = (
    SHEETS
    | {"floor-status", "icon"}
    | {"packing-status", "photo", "paper", "paper-sheet", "openapi", "scan-worker", "scan-phone", "dock-now"}
)

# One form each, on one template: looked at less thoroughly.
ALIKE = [
    *(f"item-act {key}" for key in ACTS if key != "put"),
    *(f"/set/heron-2/{key}/" for key, act in DRIVE_ACTS.items() if Role.KIT_MANAGER in act.roles and key != "blank"),
]

# Every page once as the kit manager, who sees most on it; then what others see differently.
PAGES: list[tuple[str, str]] = [
    *(("ida", name) for name, (method, _) in ROWS.items() if method in {"get", "go"} and name not in FILES),
    *((role, name) for role in ("ana", "wes") for name in ("today", "case", "show", "load", "dock", "return")),
    *(("tomas", name) for name in ("today", "case", "show", "item", "system", "shows")),
    *(("jo", name) for name in ("today", "shows", "where")),
    *(("pass", name) for name in ("crew", "load", "dock", "code-page", "join")),
    *(("stranger", name) for name in ("sign-in", "code-page", "join", "join-by-code")),
    *(("ida", name) for name in ALIKE),
    ("jo", "drive-sets"),
    ("tomas", "drive-set"),
    ("ida", "/where/?q=HERON-2"),
    ("ida", "/where/?q=HER-04"),
    ("ida", "/where/?q=71B04K"),
    ("ida", "/where/?q=ida"),
    ("ida", "/where/?q=nothing-like-it"),
    ("jo", "/where/?q=HERON-2"),
    ("tomas", "/where/?q=heron"),
    ("ida", "/things/?system=1&kind=panel"),
    ("ida", "/things/?words=nothing-like-it"),
    ("ida", "/ledger/?by=ana&verb=loaded"),
    ("ida", "/things/add/?number=HER-01"),
    ("ida", "/no-such-page/"),
    ("tomas", "packing"),
    ("ida", "/show/FMC/packing/?van=Meadowrue&also=curlew"),
    ("wes", "/import/"),
]
