"""Where files that people send in are kept: a folder of this host, or an object store."""

from importlib.util import find_spec
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from environs import ValidationError

#: What may stand behind the address's question mark, and what django-storages calls it.
_OPTIONS = {"region": "region_name", "endpoint": "endpoint_url"}


def media_storage(address: str) -> dict[str, Any]:
    """An entry of ``STORAGES``. ``address`` is empty for BLENDSHOP_MEDIA_ROOT, else
    ``s3://bucket/folder?region=…&endpoint=https://…``; keys come from where boto3 looks for them.

    Raises ValidationError with a sentence when it is none of these.
    """
    if not address:
        return {"BACKEND": "django.core.files.storage.FileSystemStorage"}
    parts = urlsplit(address)
    said = dict(parse_qsl(parts.query))
    unknown = sorted(said.keys() - _OPTIONS.keys())
    if parts.scheme != "s3" or not parts.hostname or "@" in parts.netloc or unknown:
        raise ValidationError(
            "Must look like s3://bucket/folder?region=us-east-1, if wanted "
            "with &endpoint=https://host; keys: AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY."
        )
    if find_spec("storages") is None or find_spec("boto3") is None:
        raise ValidationError(
            "Needs a package that is not installed: pip install 'django-storages[s3]'."
        )
    return {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {
            "bucket_name": parts.netloc,
            "location": parts.path.strip("/"),
            # Two certificates of one name are two files; nothing is for everybody's eyes.
            "file_overwrite": False,
            "default_acl": None,
            "querystring_auth": True,
            **{_OPTIONS[key]: value for key, value in said.items()},
        },
    }
