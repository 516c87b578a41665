"""A file is what its first bytes say, under a name of ours, and no larger than allowed."""

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile

from blendshop.uploads import JPEG, PDF, PNG, accepted

MB = 1024 * 1024


def sent(start: bytes, *, size: int = 100, kinds=(PDF, PNG, JPEG)):
    file = SimpleUploadedFile("../../page.html", start + b" " * (size - len(start)))
    return accepted(file, kinds, name="certificate", what="file", most_mb=1)


@pytest.mark.parametrize(
    ("start", "name"),
    [
        (b"%PDF-1.7", "certificate.pdf"),
        (b"\x89PNG\r\n\x1a\n", "certificate.png"),
        (b"\xff\xd8\xff\xe0", "certificate.jpg"),
    ],
)
def test_a_file_is_named_by_what_it_is_and_read_from_its_start(start, name):
    file = sent(start)
    assert file.name == name
    assert file.read(len(start)) == start


def test_a_kind_that_was_not_asked_for_is_refused():
    with pytest.raises(ValidationError, match="This is neither a PNG nor a JPEG"):
        sent(b"%PDF-1.7", kinds=(PNG, JPEG))


def test_the_limit_itself_is_allowed_and_one_byte_more_is_not():
    assert sent(b"%PDF-", size=MB).size == MB
    with pytest.raises(ValidationError, match="The file is larger than 1 MB"):
        sent(b"%PDF-", size=MB + 1)
