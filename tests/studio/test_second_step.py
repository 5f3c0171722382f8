"""The second step of the sign-in: asked for on a public site, and never in anybody's way."""

from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
import time_machine
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP, format_hotp_value, hotp_value
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from studio.accounts import SecondFactorAdapter
from studio.words import Role
from tests import makers

# RFC 6238, appendix B, and RFC 4226, appendix D: the secret "12345678901234567890", in base 32.
SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
# RFC 6238, appendix B, SHA-1: seconds since 1970, and the last six of the eight digits printed.
PUBLISHED = [(59, "287082"), (1111111109, "081804"), (1111111111, "050471"), (1234567890, "005924")]
NOON = datetime(2026, 11, 25, 12, 0, 10, tzinfo=UTC)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _no_tries_yet():
    cache.clear()


@pytest.fixture
def teacher():
    return makers.a_teacher(email="runa@example.org")


def with_second_step(teacher) -> list[str]:
    """Set the second step up, and give the recovery codes."""
    TOTP.activate(teacher, SECRET)
    return list(RecoveryCodes.activate(teacher).get_unused_codes())


def code_at(moment: datetime) -> str:
    return str(format_hotp_value(hotp_value(SECRET, int(moment.timestamp()) // 30)))


def past_the_password(teacher) -> Client:
    client = Client()
    answer = client.post(
        reverse("account_login"), {"login": teacher.email, "password": makers.PASSWORD}
    )
    assert answer.headers["Location"] == reverse("mfa_authenticate")
    return client


def typed(client: Client, code: str):
    return client.post(reverse("mfa_authenticate"), {"code": code})


def is_in(client: Client) -> bool:
    return client.get("/overview").status_code == 200


@pytest.mark.parametrize(("seconds", "code"), PUBLISHED)
def test_the_published_codes_open_the_door_at_their_moment(teacher, seconds, code):
    with_second_step(teacher)
    with time_machine.travel(datetime.fromtimestamp(seconds, UTC), tick=False):
        client = past_the_password(teacher)

        typed(client, code)

        assert is_in(client)


def test_the_password_alone_opens_nothing(teacher):
    with_second_step(teacher)

    client = past_the_password(teacher)

    assert not is_in(client)
    assert client.get(reverse("studio:settings")).status_code == 302


def test_a_code_with_a_space_is_read_as_people_copy_it(teacher):
    with_second_step(teacher)
    with time_machine.travel(NOON, tick=False):
        client = past_the_password(teacher)

        typed(client, f"{code_at(NOON)[:3]} {code_at(NOON)[3:]}")

        assert is_in(client)


def test_a_code_opens_once(teacher):
    with_second_step(teacher)
    with time_machine.travel(NOON, tick=False):
        typed(past_the_password(teacher), code_at(NOON))
        thief = past_the_password(teacher)

        page = typed(thief, code_at(NOON)).content.decode()

        assert "This is not the code of the moment." in page
        assert not is_in(thief)


def test_a_recovery_code_opens_once(teacher):
    codes = with_second_step(teacher)
    first, second = past_the_password(teacher), past_the_password(teacher)

    typed(first, codes[3])
    typed(second, codes[3])

    assert (is_in(first), is_in(second)) == (True, False)
    assert len(set(codes)) == 10


def test_after_five_wrong_codes_a_recovery_code_still_opens(teacher):
    codes = with_second_step(teacher)
    with time_machine.travel(NOON, tick=False) as clock:
        client = past_the_password(teacher)
        for _ in range(5):
            typed(client, "000000")
        page = typed(client, code_at(NOON)).content.decode()
        assert "Too many tries. Wait 5 minutes, or use a recovery code." in page
        assert not is_in(client)
        clock.shift(timedelta(minutes=1))  # an address has ten tries a minute of its own

        typed(client, codes[0])

        assert is_in(client)


def test_after_five_minutes_the_code_of_the_moment_opens_again(teacher):
    with_second_step(teacher)
    with time_machine.travel(NOON, tick=False) as clock:
        client = past_the_password(teacher)
        for _ in range(6):
            typed(client, "000000")
        clock.shift(timedelta(minutes=5, seconds=1))

        typed(client, code_at(NOON + timedelta(minutes=5, seconds=1)))

        assert is_in(client)


def test_recovery_codes_cannot_be_guessed_without_end(teacher):
    codes = with_second_step(teacher)
    with time_machine.travel(NOON, tick=False) as clock:
        client = past_the_password(teacher)
        for _ in range(5):
            typed(client, "00000000")
        clock.shift(timedelta(minutes=1))

        page = typed(client, codes[0]).content.decode()

        assert "Too many tries. Wait 5 minutes." in page
        assert not is_in(client)


def test_wrong_passwords_are_slowed_down_in_words(teacher):
    client = Client()
    wrong = {"login": teacher.email, "password": "not this one at all"}
    first = client.post(reverse("account_login"), wrong).content.decode()
    for _ in range(10):
        page = client.post(reverse("account_login"), wrong).content.decode()

    assert "This e-mail and this password do not go together." in first
    assert "Too many tries. Wait 6 minutes, then try again." in page


@pytest.fixture
def asked(settings):
    settings.SECOND_FACTOR = True


def test_a_public_site_sends_a_teacher_to_set_it_up_first(asked, teacher):
    client = makers.signed_in(teacher)

    seen, sent = client.get("/students"), client.post("/students/new", {"name": "Nor"})

    assert seen.headers["Location"] == sent.headers["Location"] == reverse("mfa_activate_totp")
    assert client.get(reverse("studio:help")).status_code == 200


def test_with_the_second_step_a_public_site_opens(asked, teacher):
    with_second_step(teacher)

    assert is_in(makers.signed_in(teacher))


def test_recovery_codes_alone_are_no_second_step(asked, teacher):
    RecoveryCodes.activate(teacher)

    assert not is_in(makers.signed_in(teacher))


def test_on_ones_own_computer_it_is_left_to_the_teacher(settings, teacher):
    assert settings.SECOND_FACTOR is False
    assert is_in(makers.signed_in(teacher))


def test_the_overview_asks_as_many_queries_with_it(
    settings, teacher, django_assert_max_num_queries
):
    settings.SECOND_FACTOR = True
    with_second_step(teacher)
    client = makers.signed_in(teacher)

    with django_assert_max_num_queries(12):
        client.get("/overview")


def again(client: Client, to: str):
    """Type the password again, as the page asks before the sign-in is changed."""
    url = reverse("account_reauthenticate")
    return client.post(url, {"password": makers.PASSWORD, "next": reverse(to)})


def test_setting_it_up_asks_the_password_again_and_ends_with_ten_codes(asked, teacher):
    with time_machine.travel(NOON, tick=False):
        client = makers.signed_in(teacher)
        asks = client.get(reverse("mfa_activate_totp"))
        assert asks.headers["Location"].startswith(reverse("account_reauthenticate"))
        again(client, "mfa_activate_totp")
        shown = client.get(reverse("mfa_activate_totp"))
        secret = shown.context["form"].secret
        assert secret in shown.content.decode()

        code = format_hotp_value(hotp_value(secret, int(NOON.timestamp()) // 30))
        page = client.post(reverse("mfa_activate_totp"), {"code": code}, follow=True)

        assert page.redirect_chain == [(reverse("mfa_view_recovery_codes"), 302)]
        assert page.content.decode().count("<li><code>") == 10
        assert is_in(client)


def test_the_code_opens_what_changes_the_sign_in_and_a_wrong_one_does_not(teacher):
    code = with_second_step(teacher)[0]
    client = makers.signed_in(teacher)
    asks, to = reverse("mfa_reauthenticate"), reverse("mfa_generate_recovery_codes")

    client.post(asks, {"code": "00000000", "next": to})
    assert client.get(to).status_code == 302
    answer = client.post(asks, {"code": code, "next": to})

    assert answer.headers["Location"] == to
    assert client.get(to).status_code == 200


def test_recovery_codes_are_shown_once(teacher):
    codes = with_second_step(teacher)
    client = makers.signed_in(teacher)
    again(client, "mfa_view_recovery_codes")

    first = client.get(reverse("mfa_view_recovery_codes")).content.decode()
    second = client.get(reverse("mfa_view_recovery_codes")).content.decode()

    assert codes[0] in first
    assert not any(code in second for code in codes)


def test_new_recovery_codes_end_the_old_ones(teacher):
    codes = with_second_step(teacher)
    client = makers.signed_in(teacher)
    again(client, "mfa_generate_recovery_codes")

    client.post(reverse("mfa_generate_recovery_codes"))

    thief = past_the_password(teacher)
    typed(thief, codes[0])
    assert not is_in(thief)


def test_taken_away_it_is_asked_for_anew_on_a_public_site(asked, teacher):
    with_second_step(teacher)
    client = makers.signed_in(teacher)
    again(client, "mfa_deactivate_totp")

    client.post(reverse("mfa_deactivate_totp"))

    assert not Authenticator.objects.exists()
    assert client.get("/overview").headers["Location"] == reverse("mfa_activate_totp")


def test_a_copied_database_holds_no_secret_that_can_be_read(teacher):
    with_second_step(teacher)

    stored = str(list(Authenticator.objects.values_list("data", flat=True)))

    assert SECRET not in stored
    assert SecondFactorAdapter().decrypt(Authenticator.objects.first().data["secret"]) == SECRET


def test_a_lost_key_opens_nothing_and_breaks_nothing(teacher, settings):
    codes = with_second_step(teacher)
    settings.SECRET_KEY = "another key of the site, which has at least fifty letters"
    with time_machine.travel(NOON, tick=False):
        client = past_the_password(teacher)

        # What an empty secret, and an empty seed, would give: codes that everybody can work out.
        empty = format_hotp_value(hotp_value("", int(NOON.timestamp()) // 30))
        for code in (code_at(NOON), empty, codes[0]):
            assert typed(client, code).status_code == 200

        assert not is_in(client)


def test_a_key_from_before_still_reads_the_secret(teacher, settings):
    with_second_step(teacher)
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another key of the site, which has at least fifty letters"

    assert SecondFactorAdapter().decrypt(Authenticator.objects.first().data["secret"]) == SECRET


def test_the_command_takes_it_away_from_who_lost_everything(teacher):
    with_second_step(teacher)
    out = StringIO()

    call_command("drop_second_step", "Runa@example.org", stdout=out)

    assert "The second step of runa@example.org is away." in out.getvalue()
    assert not Authenticator.objects.exists()


def test_the_command_says_when_there_is_nobody(teacher):
    with pytest.raises(CommandError, match=r"Nobody signs in with ivo@example\.org\."):
        call_command("drop_second_step", "ivo@example.org")


def sign_in(teacher, **client) -> Client:
    browser = Client(**client)
    browser.post(reverse("account_login"), {"login": teacher.email, "password": makers.PASSWORD})
    return browser


def test_a_sign_in_elsewhere_is_listed_and_can_be_ended(teacher):
    here = sign_in(teacher, headers={"user-agent": "Windows"})
    there = sign_in(teacher, headers={"user-agent": "an iPad"})
    page = here.get(reverse("studio:settings_sign_in"))
    assert "IPad" in page.content.decode()
    row = next(row for row, label in page.context["sessions"] if label == "iPad")

    here.post(reverse("studio:end_sign_in"), {"session": row.pk})

    assert (is_in(here), is_in(there)) == (True, False)


def test_everywhere_else_is_signed_out_at_once(teacher):
    here, *others = [sign_in(teacher) for _ in range(3)]

    here.post(reverse("studio:end_sign_in"), {"session": "others"})

    assert [is_in(one) for one in (here, *others)] == [True, False, False]


@pytest.mark.parametrize("given", ["", "-1", "horn", "9" * 30, "²"])
def test_nonsense_ends_no_sign_in(teacher, given):
    here, there = sign_in(teacher), sign_in(teacher)

    answer = here.post(reverse("studio:end_sign_in"), {"session": given})

    assert answer.status_code == 302
    assert is_in(there)


def test_nobody_ends_the_sign_in_of_somebody_else(teacher):
    there = sign_in(teacher)
    row = there.get(reverse("studio:settings_sign_in")).context["sessions"][0][0]
    stranger = makers.signed_in(makers.a_teacher(role=Role.OWNER))

    stranger.post(reverse("studio:end_sign_in"), {"session": row.pk})

    assert is_in(there)
