"""Static files in production: each name carries its content's hash, also inside our modules."""

from typing import ClassVar

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedModulesStorage(CompressedManifestStaticFilesStorage):
    """Gives the relative imports of this project's modules the hashed names too.

    Else a page would mix its own new file with older ones from a cache after an update. Django's
    own flag for this rewrites every script there is, other people's bundles included, by pattern;
    here it is only ``shop/``, where an import is written ``from "./name.js";``.
    """

    patterns: ClassVar = (
        *CompressedManifestStaticFilesStorage.patterns,
        ("shop/*.js", ((r'(?P<matched>from "(?P<url>\./[^"]+)";)', 'from "%(url)s";'),)),
    )
