"""The reverse proxies that stand before this program, by address or network."""

from ipaddress import ip_network

from django.core.exceptions import ImproperlyConfigured


def read(listed: str) -> list[str]:
    """Read FILAR_PROXIES: addresses or networks, with spaces or commas between them."""
    found = listed.replace(",", " ").split()
    for one in found:
        try:
            ip_network(one, strict=False)
        except ValueError as error:
            message = f"FILAR_PROXIES: {one!r} is no address and no network like 10.0.0.0/8."
            raise ImproperlyConfigured(message) from error
    return found
