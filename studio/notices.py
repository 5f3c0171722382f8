"""The words that the next page says once, such as "Saved.", and the cookie that carries them."""

from django.conf import settings
from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage


class NamedCookie(CookieStorage):
    """The cookie, under a name like that of every other one: only this host can have set it."""

    @property
    def cookie_name(self) -> str:  # type: ignore[override] # a plain attribute there
        """Read the name when it is needed: a public site has another one."""
        return str(settings.NOTICE_COOKIE_NAME)


class Notices(FallbackStorage):
    """Short words go into the cookie, and what is too long for one into the session."""

    storage_classes = (NamedCookie, SessionStorage)
