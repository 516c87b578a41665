"""Links of the menu: the page that is open is marked as such."""

from django import template
from django.template.context import Context
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag(takes_context=True)
def nav_link(context: Context, route: str, words: str) -> SafeString:
    """A link to a route, with ``aria-current`` while its own page is open."""
    request = context.get("request")
    match = getattr(request, "resolver_match", None)
    is_here = match is not None and match.url_name == route
    return format_html(
        '<a class="nav-link{}" href="{}"{}>{}</a>',
        " active" if is_here else "",
        reverse(route),
        SafeString(' aria-current="page"') if is_here else "",
        words,
    )
