"""Static files in production: each name carries its content's hash, also inside our modules."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from django.contrib.staticfiles.storage import ManifestStaticFilesStorage as _Storage
else:
    from whitenoise.storage import CompressedManifestStaticFilesStorage as _Storage


#: Source maps are not collected, so their names are left as they are.
_WITHOUT_SOURCE_MAPS: Any = tuple(
    (files, tuple(pattern for pattern in patterns if "sourceMappingURL" not in str(pattern)))
    for files, patterns in _Storage.patterns
)


class HashedModulesStorage(_Storage):
    """Gives the relative imports of this project's modules the hashed names too.

    Else a page would mix its own new file with older ones from a cache after an update. Django's
    own flag for this rewrites every script there is, other people's bundles included, by pattern;
    here it is only ``shop/``, where an import ends with ``from "./name.js";`` or one floor up.
    """

    patterns = (
        *_WITHOUT_SOURCE_MAPS,
        ("shop/*.js", ((r'(?P<matched>from "(?P<url>\.{1,2}/[^"]+)";)', 'from "%(url)s";'),)),
    )
