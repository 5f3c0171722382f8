"""Every setting of Filar in one place.

Development needs no variable at all. A public site sets `FILAR_ADDRESS` to its https address,
and from then on a secret key is asked for, cookies travel over https only, and hosts are checked.
`DEVELOPERS.md` lists the variables.
"""

import os
import secrets
from pathlib import Path
from urllib.parse import SplitResult, urlsplit

from django.core.exceptions import ImproperlyConfigured

from config import databases, logs, mail, policy, proxies

BASE_DIR = Path(__file__).resolve().parent.parent


def _yes_or_no(name: str, *, default: bool) -> bool:
    """Read a True or False variable and refuse anything else."""
    value = os.environ.get(name, str(default))
    if value not in {"True", "False"}:
        message = f"{name}={value!r}: write True or False."
        raise ImproperlyConfigured(message)
    return value == "True"


def _is_more(parts: SplitResult) -> bool:
    """Whether an address has more than a scheme, a host and a port."""
    return bool(parts.path.strip("/") or parts.query or parts.fragment or parts.username)


def _address() -> str:
    """Read the address people type, without a path, from FILAR_ADDRESS."""
    value = os.environ.get("FILAR_ADDRESS", f"http://127.0.0.1:{os.environ.get('PORT', '8000')}")
    try:
        parts = urlsplit(value)
        host = parts.hostname
        _ = parts.port
    except ValueError:
        parts, host = urlsplit(""), None
    if parts.scheme not in {"http", "https"} or not host or _is_more(parts):
        message = f"FILAR_ADDRESS={value!r}: write https://your.host, without a path."
        raise ImproperlyConfigured(message)
    if parts.scheme == "http" and host not in {"127.0.0.1", "localhost", "::1"}:
        message = f"FILAR_ADDRESS={value!r}: plain http is for this computer only; use https."
        raise ImproperlyConfigured(message)
    return value.rstrip("/")


def _make_folder(folder: Path) -> None:
    """Make the folder for what is kept, or say in words why it cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"FILAR_VAR={str(folder)!r}: {error.strerror}. Name a folder you may write to."
        raise ImproperlyConfigured(message) from error


def _secret_key(folder: Path, *, public: bool) -> str:
    """Take the key from FILAR_SECRET_KEY; a site on this computer keeps one of its own in var/."""
    given = os.environ.get("FILAR_SECRET_KEY", "")
    if given and len(given) < 50:
        message = f"FILAR_SECRET_KEY has {len(given)} characters: use at least 50 random ones."
        raise ImproperlyConfigured(message)
    if given:
        return given
    if public:
        message = "FILAR_SECRET_KEY is not set: a public site needs one of at least 50 characters."
        raise ImproperlyConfigured(message)
    kept = folder / "secret_key"
    if not kept.exists():
        kept.touch(mode=0o600)
    if len(kept.read_text()) < 50:
        kept.write_text(secrets.token_urlsafe(60))
    return kept.read_text()


def _old_secret_keys() -> list[str]:
    """Read the keys from before, which open what they wrote and write nothing, the newest first."""
    found = os.environ.get("FILAR_OLD_SECRET_KEYS", "").split()
    if short := [key for key in found if len(key) < 50]:
        message = (
            f"FILAR_OLD_SECRET_KEYS: one has {len(short[0])} characters: write whole keys of at "
            "least 50, with spaces between them."
        )
        raise ImproperlyConfigured(message)
    return found


VAR_DIR = Path(os.environ.get("FILAR_VAR", BASE_DIR / "var"))
_make_folder(VAR_DIR)
BACKUPS = Path(os.environ.get("FILAR_BACKUPS", VAR_DIR / "backups"))

# Who may say from which address a request comes; everybody else's word is dropped.
PROXIES = proxies.read(os.environ.get("FILAR_PROXIES", "127.0.0.1 ::1"))

DEBUG = _yes_or_no("FILAR_DEBUG", default=False)
ADDRESS = _address()
PUBLIC = ADDRESS.startswith("https://")
SECRET_KEY = _secret_key(VAR_DIR, public=PUBLIC)
SECRET_KEY_FALLBACKS = _old_secret_keys()
ALLOWED_HOSTS = [urlsplit(ADDRESS).hostname] if PUBLIC else ["127.0.0.1", "localhost", "[::1]"]

INSTALLED_APPS = [
    "config.staticfiles.FilarStaticFilesConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "django.contrib.sessions",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "csp",
    "django_htmx",
    "django_scopes",
    "template_partials",
    "studio",
    "routines",
    "progress",
]

MIDDLEWARE = [
    "studio.log.LogMiddleware",
    "studio.middleware.ForwardedMiddleware",
    "studio.http.HeadersMiddleware",
    "studio.http.NoBodyMiddleware",
    # Pages are small over a thin line; Django adds noise of random length against guessing at them.
    "django.middleware.gzip.GZipMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "studio.middleware.OwnPagesMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "studio.sessions.SessionTimesMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "studio.middleware.MethodMiddleware",
    "studio.middleware.TooManyMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "studio.http.membership",
            ],
        },
    },
]

DATABASES = {"default": databases.read(os.environ.get("DATABASE_URL", ""), VAR_DIR)}
# Apart for the demo: each studio's timer deletes what no row of its own database names.
RECORDINGS = "recordings" if os.environ.get("DATABASE_URL") else "recordings-of-the-demo"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
CACHES = {
    # Sign-in limits must hold across all server processes, so the cache lies in the database.
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "filar_cache",
    }
}

AUTH_USER_MODEL = "studio.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "studio.passwords.WordsOfThisPlaceValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "progress:overview"
LOGIN_REDIRECT_PATH = "/overview"
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "studio.accounts.ClosedDoorAdapter"
ACCOUNT_FORMS = {
    "login": "studio.accounts.SignInForm",
    "reauthenticate": "studio.accounts.PasswordAgainForm",
}
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_EMAIL_NOTIFICATIONS = False
ACCOUNT_REAUTHENTICATION_TIMEOUT = 5 * 60
# A teacher without a second step is asked to set one up before anything else.
SECOND_FACTOR = _yes_or_no("FILAR_SECOND_FACTOR", default=PUBLIC)
MFA_ADAPTER = "studio.accounts.SecondFactorAdapter"
MFA_FORMS = {
    "authenticate": "studio.accounts.CodeForm",
    "reauthenticate": "studio.accounts.CodeAgainForm",
    "activate_totp": "studio.accounts.FirstCodeForm",
}
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_RECOVERY_CODES_SHOW_ONCE = True
MFA_ALLOW_UNVERIFIED_EMAIL = True

MAIL_FROM = os.environ.get("FILAR_MAIL_FROM", "")
MAIL = mail.read(os.environ.get("FILAR_MAIL", ""), MAIL_FROM, public=PUBLIC)
EMAIL_BACKEND, EMAIL_HOST, EMAIL_PORT = MAIL.backend, MAIL.host, MAIL.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = MAIL.user, MAIL.password
EMAIL_USE_TLS, EMAIL_USE_SSL, EMAIL_TIMEOUT = MAIL.starts_tls, MAIL.is_tls, 10
DEFAULT_FROM_EMAIL = MAIL_FROM or "filar@localhost"

# Whether a stranger may open a studio of their own on this site.
SIGN_UP = _yes_or_no("FILAR_SIGN_UP", default=False)

LANGUAGE_CODE = "en-gb"
# The languages that are really there. With a second one comes `locale/` and, behind the sessions,
# django.middleware.locale.LocaleMiddleware: docs/decisions/0015-words-through-gettext.md.
LANGUAGES = [("en-gb", "English")]
LOCALE_PATHS = [BASE_DIR / "locale"]
USE_I18N = True
TIME_ZONE = "UTC"
USE_TZ = True
# At four in the morning Django's check takes the time at which a studio's day ends for "now".
SILENCED_SYSTEM_CHECKS = ["fields.W161"]

STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
WHITENOISE_ALLOW_ALL_ORIGINS = False
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}

# Without use for so long a teacher is signed out; studio/sessions.py has the other limits.
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Strict"
CSRF_FAILURE_VIEW = "studio.views.front.csrf_failure"
# A browser takes a __Host- cookie over https only, so a site on this computer goes without.
COOKIE_PREFIX = "__Host-" if PUBLIC else ""
SESSION_COOKIE_NAME = f"{COOKIE_PREFIX}filar_session"
CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}filar_csrf"
PHONE_COOKIE_NAME = f"{COOKIE_PREFIX}filar_d"
PARENT_COOKIE_NAME = f"{COOKIE_PREFIX}filar_p"
KNOWN_COOKIE_NAME = f"{COOKIE_PREFIX}filar_known"
NOTICE_COOKIE_NAME = f"{COOKIE_PREFIX}filar_said"
MESSAGE_STORAGE = "studio.notices.Notices"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = PUBLIC
CSRF_TRUSTED_ORIGINS = [ADDRESS] if PUBLIC else []
SECURE_SSL_REDIRECT = PUBLIC
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if PUBLIC else None
SECURE_HSTS_SECONDS = 31_536_000 if PUBLIC else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = PUBLIC
SECURE_HSTS_PRELOAD = PUBLIC
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = policy.CONTENT_SECURITY
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_048_576
FILE_UPLOAD_HANDLERS = ["studio.uploads.SmallFormsAlone"]

LOGGING = logs.LOGGING
