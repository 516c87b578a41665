"""What a browser says it is, in words a person knows it by: ``Firefox on Windows``.

A browser writes what it likes into that line, and most name others in it that came before them. So
the first name of each table that is found is taken, the copied names last; whatever is not known
is said to be that. Good for knowing the own tablet again, and no proof of anything.
"""

from typing import Final

from django.utils.translation import gettext as _

#: Sign in ``User-Agent`` to name. All of these but the last copy names further down.
_BROWSERS: Final = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("FxiOS/", "Firefox"),
    ("Firefox/", "Firefox"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Version/", "Safari"),
)
#: A tablet of Apple's calls itself a Macintosh; an Android one, and a Chromebook, a Linux.
_SYSTEMS: Final = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Macintosh", "Mac or iPad"),
    ("Windows", "Windows"),
    ("Android", "Android"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)


def device_words(user_agent: str) -> str:
    """Browser and system as far as they are known."""
    # Only what calls itself a browser: programs put such names elsewhere in the line too.
    known = user_agent if user_agent.startswith("Mozilla/5.0 (") else ""
    browser = next((name for sign, name in _BROWSERS if sign in known), "")
    system = next((name for sign, name in _SYSTEMS if sign in known), "")
    if not system:
        return browser or _("unknown browser")
    return _("{browser} on {system}").format(browser=browser or _("unknown browser"), system=system)
