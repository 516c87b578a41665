"""Static files in production: each name carries its content's hash, also inside our modules."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from django.contrib.staticfiles.storage import ManifestStaticFilesStorage as _Storage
else:
    from whitenoise.storage import CompressedManifestStaticFilesStorage as _Storage


class HashedModulesStorage(_Storage):
    """Gives the relative imports of this project's modules the hashed names too.

    Else a page would mix its own new file with older ones from a cache after an update. Django's
    own flag for this rewrites every script there is, other people's bundles included, by pattern;
    here it is only ``shop/``, where an import ends with ``from "./name.js";``.
    """

    patterns = (
        *_Storage.patterns,
        ("shop/*.js", ((r'(?P<matched>from "(?P<url>\./[^"]+)";)', 'from "%(url)s";'),)),
    )
