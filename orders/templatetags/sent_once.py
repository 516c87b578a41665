"""The mark by which a form that is sent twice is known again."""

from uuid import uuid4

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from orders.records.sent_once import MARK

register = template.Library()


@register.simple_tag
def once_mark() -> SafeString:
    """A hidden field with a mark of its own each time a page is made."""
    return format_html('<input type="hidden" name="{}" value="{}">', MARK, uuid4().hex)
