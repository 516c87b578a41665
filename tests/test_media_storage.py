"""BLENDSHOP_MEDIA_URL leads to an object store, or says what it should look like."""

import pytest
from django.core.files.storage import storages
from environs import ValidationError

from blendshop import media_storage as room
from blendshop.media_storage import media_storage


def test_without_an_address_files_lie_in_the_media_folder():
    assert media_storage("")["BACKEND"] == "django.core.files.storage.FileSystemStorage"


def test_an_object_store_is_what_its_address_says():
    pytest.importorskip("storages", reason="django-storages is optional")
    pytest.importorskip("boto3", reason="boto3 comes with django-storages[s3]")
    store = storages.create_storage(
        media_storage("s3://plant.files/blends/?region=us-east-1&endpoint=http://127.0.0.1:9")
    )
    assert (store.bucket_name, store.location) == ("plant.files", "blends")
    assert (store.region_name, store.endpoint_url) == ("us-east-1", "http://127.0.0.1:9")
    assert not store.file_overwrite


@pytest.mark.parametrize(
    "address",
    [
        "/srv/media",
        "http://bucket/",
        "s3:///folder",
        "s3://key:secret@bucket/",
        "s3://b/?acl=public",
    ],
)
def test_another_address_is_refused(address):
    with pytest.raises(ValidationError, match="Must look like s3://"):
        media_storage(address)


def test_a_missing_package_is_named(monkeypatch):
    monkeypatch.setattr(room, "find_spec", lambda _name: None)
    with pytest.raises(ValidationError, match=r"django-storages\[s3\]"):
        media_storage("s3://bucket/")
