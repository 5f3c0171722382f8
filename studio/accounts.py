"""How teachers' accounts come to be and how they sign in: not by strangers signing up."""

from base64 import b32encode, urlsafe_b64encode
from datetime import timedelta
from hashlib import sha256
from io import BytesIO
from secrets import token_bytes
from typing import Any, ClassVar

import segno
from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.forms import LoginForm, ReauthenticateForm
from allauth.core import context, ratelimit
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.base.forms import AuthenticateForm
from allauth.mfa.base.internal.flows import post_authentication
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.forms import ActivateTOTPForm
from allauth.usersessions.models import UserSession
from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.core.exceptions import ValidationError
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.encoding import force_bytes
from django.utils.translation import gettext_lazy as _

from studio import limits, secrets, sessions
from studio.addresses import address_of
from studio.middleware import wait_in_words
from studio.models import User

RECOVERY_CODE_LENGTH = 8
KNOWN = "studio.accounts.known"
KNOWN_FOR = timedelta(days=400)  # browsers keep a cookie no longer
TOO_MANY = _("Too many tries. Wait 5 minutes.")
TOO_MANY_CODES = _("Too many tries. Wait 5 minutes, or use a recovery code.")


class ClosedDoorAdapter(DefaultAccountAdapter):  # type: ignore[misc] # untyped library
    """Accounts are made by the first-run page or an invitation, never by a public sign-up."""

    error_messages: ClassVar[dict[str, Any]] = {
        **DefaultAccountAdapter.error_messages,
        "email_password_mismatch": _("This e-mail and this password do not go together."),
        "incorrect_password": _("This is not your password."),
        "too_many_login_attempts": TOO_MANY,
        "rate_limited": TOO_MANY,
    }

    def get_client_ip(self, request: HttpRequest) -> str:
        """Name the address a request comes from, past the proxies that the settings list."""
        return address_of(request)

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Count a sign-in before the password is looked at: by address, and by account.

        A browser that has signed in to the account before is not held up by what strangers try,
        so nobody can lock a teacher out.
        """
        moment, email = timezone.now(), _email_of(credentials)
        seconds = limits.take(limits.SIGN_IN_BY_ADDRESS, address_of(request), moment=moment)
        if not seconds and not _is_known(request, email):
            seconds = limits.take(limits.SIGN_IN_BY_ACCOUNT, email, moment=moment)
        if seconds:
            raise ValidationError(wait_in_words(seconds))

    def authenticate(self, request: HttpRequest, **credentials: Any) -> Any:
        """Look at the password; what was right is not counted."""
        self._login_failed_rl_usage = None
        user = super().authenticate(request, **credentials)
        if user is not None:
            limits.give_back(limits.SIGN_IN_BY_ADDRESS, address_of(request))
            if not _is_known(request, _email_of(credentials)):
                limits.give_back(limits.SIGN_IN_BY_ACCOUNT, _email_of(credentials))
        return user

    def post_login(self, request: HttpRequest, user: User, **how: Any) -> HttpResponse:
        """Remember that this browser has signed in to this account."""
        answer: HttpResponse = super().post_login(request, user, **how)
        request.session.save()  # else the library takes this very sign-in for a dead one
        if sessions.end_oldest(user):
            messages.warning(request, sessions.OLDEST_ENDED)
        answer.set_signed_cookie(
            settings.KNOWN_COOKIE_NAME,
            secrets.hashed(user.email.lower()),
            salt=KNOWN,
            max_age=KNOWN_FOR,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
        return answer

    def is_open_for_signup(self, request: HttpRequest) -> bool:  # noqa: ARG002 - allauth's shape
        """Say no to strangers."""
        return False


def _email_of(credentials: dict[str, Any]) -> str:
    return str(credentials.get("email") or "").strip().lower()[:254]


def _is_known(request: HttpRequest, email: str) -> bool:
    shown = request.get_signed_cookie(
        settings.KNOWN_COOKIE_NAME, default="", salt=KNOWN, max_age=KNOWN_FOR
    )
    return secrets.matches(email, shown or "")


class SecondFactorAdapter(DefaultMFAAdapter):  # type: ignore[misc] # untyped library
    """The second step of the sign-in: our words, our drawing, secrets encrypted where they rest."""

    error_messages: ClassVar[dict[str, Any]] = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": _(
            "This is not the code of the moment. Wait for the next one and type it."
        ),
        "cannot_generate_recovery_codes": _("Set up the second step first."),
    }

    def get_totp_issuer(self) -> str:
        """Name this program in the list of the teacher's authenticator."""
        return "Filar"

    def build_totp_svg(self, url: str) -> str:
        """Draw the secret as a QR code, dark on white in every theme."""
        picture = BytesIO()
        segno.make(url, error="m").save(
            picture, kind="svg", scale=6, border=4, dark="#000", light="#fff", xmldecl=False
        )
        return picture.getvalue().decode()

    def encrypt(self, text: str) -> str:
        """Encrypt with a key made from the site's own, so that a copied database opens nothing."""
        return str(_fernet().encrypt(text.encode()), "ascii")

    def decrypt(self, encrypted_text: str) -> str:
        """Decrypt; what another key wrote becomes a random secret, which no code fits.

        Nothing breaks then, and nothing opens: an empty secret would have codes that all can know.
        """
        try:
            return str(_fernet().decrypt(encrypted_text.encode()), "utf-8")
        except InvalidToken:
            return b32encode(token_bytes(20)).decode()


def _fernet() -> MultiFernet:
    keys = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    made = (sha256(b"studio.accounts.second-factor" + force_bytes(key)).digest() for key in keys)
    return MultiFernet([Fernet(urlsafe_b64encode(one)) for one in made])


def sign_in(request: HttpRequest, user: User) -> None:
    """Sign in who has just made an account, and put it on the list of sign-ins."""
    login(request, user)
    UserSession.objects.create_from_request(request)


class SignInForm(LoginForm):  # type: ignore[misc] # untyped library
    """The sign-in, with the words of the other forms."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["login"].label = _("E-mail")
        for name in ("login", "password"):
            self.fields[name].widget.attrs.pop("placeholder", None)


class PasswordAgainForm(ReauthenticateForm):  # type: ignore[misc] # untyped library
    """The password once more, before the sign-in itself is changed."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].label = _("Your password")
        self.fields["password"].help_text = ""
        self.fields["password"].widget.attrs.pop("placeholder", None)


class FirstCodeForm(ActivateTOTPForm):  # type: ignore[misc] # untyped library
    """The first code, which shows that the authenticator has the secret."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _dress(self, _("6 digits. They are new every 30 seconds."))


class CodeForm(AuthenticateForm):  # type: ignore[misc] # untyped library
    """The second step at the sign-in: the code of the moment, or a recovery code.

    The two kinds have limits of their own, five wrong ones in five minutes each. So whoever typed
    wrong codes of the moment, a stranger or the teacher, a recovery code still opens the door.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _dress(self, _("6 digits from your authenticator, or 8 digits of a recovery code."))
        self.fields["code"].widget.attrs["autofocus"] = True

    def clean_code(self) -> str:
        """Hold the code, without its spaces, against the limit and the secret of its kind."""
        code = "".join(self.cleaned_data["code"].split())
        recovery = len(code) >= RECOVERY_CODE_LENGTH
        kind = Authenticator.Type.RECOVERY_CODES if recovery else Authenticator.Type.TOTP
        limit = {"action": "login_failed", "key": f"second-step-{kind}-{self.user.pk}"}
        if not ratelimit.consume(context.request, **limit):
            raise ValidationError(TOO_MANY if recovery else TOO_MANY_CODES)
        found = Authenticator.objects.filter(user=self.user, type=kind).first()
        if found is None or not found.wrap().validate_code(code):
            raise ValidationError(SecondFactorAdapter.error_messages["incorrect_code"])
        ratelimit.clear(context.request, **limit)
        found.user = self.user
        self.authenticator = found
        return code


class CodeAgainForm(CodeForm):
    """The code once more, before the sign-in itself is changed."""

    def save(self) -> None:
        """Note that the person has just shown who they are."""
        post_authentication(context.request, self.authenticator, reauthenticated=True)


def _dress(form: Form, words: Any) -> None:
    field = form.fields["code"]
    field.label, field.help_text = _("Code"), words
    field.widget.attrs.pop("placeholder", None)
    field.widget.attrs |= {"inputmode": "numeric", "maxlength": 20}
