"""Static files under names that hold their own digest, scripts that import each other included."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedModules(CompressedManifestStaticFilesStorage):
    """A module's `import` names the hashed file, so that a kept page never mixes two versions."""

    support_js_module_import_aggregation = True
