"""From which address a request comes, where proxies stand in between.

Anybody can write a forwarded address. Only what a proxy wrote that the settings list is believed,
read from the right, where the nearest proxy writes; the first address that is no listed proxy is
whoever asks.
"""

from ipaddress import IPv6Address, ip_address, ip_network

from django.conf import settings
from django.http import HttpRequest

UNKNOWN = "unknown"
# A household or a phone gets a whole network of IPv6 addresses and may change within it at will.
IPV6_NETWORK_BITS = 64


def address_of(request: HttpRequest) -> str:
    """Name the address a request comes from; of an IPv6 address the network of 64 bits."""
    nearest = str(request.META.get("REMOTE_ADDR") or "")
    hops = [*request.META.get("HTTP_X_FORWARDED_FOR", "").split(","), nearest]
    # A server that is reached over a socket of its own computer has no nearest address.
    for hop in reversed([hop.strip() for hop in hops if hop.strip()]):
        if not is_listed(hop):
            return _network(hop)
    return _network(nearest)


def is_listed(hop: str) -> bool:
    """Whether an address belongs to a proxy that the settings list."""
    try:
        address = ip_address(hop)
    except ValueError:
        return False
    return any(address in ip_network(proxy, strict=False) for proxy in settings.PROXIES)


def _network(hop: str) -> str:
    try:
        address = ip_address(hop)
    except ValueError:
        return UNKNOWN
    if isinstance(address, IPv6Address):
        if address.ipv4_mapped is not None:
            return str(address.ipv4_mapped)
        return str(ip_network((address, IPV6_NETWORK_BITS), strict=False))
    return str(address)
