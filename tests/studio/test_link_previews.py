"""What fetches a link before the person it is for uses nothing up and reads no name.

Programs that show previews, scan mail or fetch ahead send GET or HEAD (RFC 9110, section 9.2.1:
safe methods); some browsers say `Sec-Purpose: prefetch`. A token is sent in the query here as well:
no page of ours does so, and a program that rewrites links might.
"""

from itertools import product

import pytest
from django.test import Client
from django_scopes import scopes_disabled

from studio.models import Grant, Invitation, Membership, Offer
from studio.words import OfferKind
from tests import makers

pytestmark = pytest.mark.django_db

AGENTS = [
    *("ChatPreview/2.1", "MailScanner/9 (link check)", "facts-bot/1.0 (+https://bot.example)"),
    *("Mozilla/5.0 (compatible; Previewer/3.0)", "okhttp/4.9", "curl/8.5", "python-requests/2.32"),
    *("Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) InApp", "Go-http-client/2.0", ""),
    *("Mozilla/5.0 (Linux; Android 15) wv Chrome/140.0 Mobile", "Java/21"),
]
WAYS = [("GET", {}), ("HEAD", {}), ("GET", {"Sec-Purpose": "prefetch", "Purpose": "prefetch"})]
TOKEN = "s" * 43


@pytest.mark.parametrize("path", ["/pair", "/parent", "/join"])
def test_whoever_looks_first_uses_nothing_up_and_reads_no_name(path, figures):
    teacher = makers.a_teacher(name="Quillfeather")
    nor = makers.a_student(makers.studio_of(teacher), name="Thistlewick")
    makers.an_offer(nor, token=TOKEN)
    makers.an_offer(nor, token="p" + TOKEN[1:], kind=OfferKind.PARENT)
    makers.an_invitation(nor.studio, by=teacher, token="i" + TOKEN[1:])
    tokens = {"/pair": TOKEN, "/parent": "p" + TOKEN[1:], "/join": "i" + TOKEN[1:]}
    cases = list(product(AGENTS, WAYS))

    for agent, (method, headers) in cases:
        client = Client(headers={"User-Agent": agent} | headers)
        answer = client.generic(method, path, QUERY_STRING=f"token={tokens[path]}")
        assert answer.status_code == (405 if method == "HEAD" else 200)
        assert "Thistlewick" not in answer.content.decode()
        assert "Quillfeather" not in answer.content.decode()

    with scopes_disabled():
        assert not Grant.objects.exists()
        assert Membership.objects.count() == 1
        assert not Offer.objects.filter(used_at__isnull=False).exists()
        assert not Invitation.objects.filter(used_at__isnull=False).exists()
    # The person it is for comes after all of them.
    assert Client().post(path, {"token": tokens[path]}).status_code == 302
    figures.append(f"previews of {path}: {len(cases)} cases, 0 used up, 0 names")
