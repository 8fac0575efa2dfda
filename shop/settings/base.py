"""Settings that run on one box with nothing set; deploy/env.example lists every variable read here."""

import secrets
from pathlib import Path

from csp.constants import NONE, SELF

from shop.settings import env

ROOT = Path(__file__).resolve().parents[2]
DATA = env.folder("BICKERN_DATA", ROOT / ".data")
DATA.mkdir(mode=0o700, parents=True, exist_ok=True)  # customers' addresses lie in it
DEMO_DAYS = env.whole("BICKERN_DEMO_DAYS", 730)  # how much of the invented shop is made up on its first start


def _secret_key() -> str:
    given = env.text("BICKERN_SECRET_KEY")
    if given:
        return given
    file = DATA / "secret_key"
    if not file.exists():
        file.touch(mode=0o600)
        file.write_text(secrets.token_urlsafe(64))
    return file.read_text().strip()


SECRET_KEY = _secret_key()
SECRET_KEY_FALLBACKS = env.words("BICKERN_OLD_SECRET_KEYS", [])
DEBUG = False
BEHIND_TLS = env.yes("BEHIND_TLS")
# Whose X-Forwarded-* headers are believed: the proxy's address, none without one.
TRUSTED_PROXIES = env.words("BICKERN_TRUSTED_PROXIES", ["127.0.0.1", "::1"] if BEHIND_TLS else [])
BASE_ADDRESS = env.text("BICKERN_BASE_ADDRESS", "http://localhost:8000").rstrip("/")
ALLOWED_HOSTS = env.words("BICKERN_ALLOWED_HOSTS", ["*"])
CSRF_TRUSTED_ORIGINS = env.words("BICKERN_TRUSTED_ORIGINS", [BASE_ADDRESS] if BEHIND_TLS else [])

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "csp",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "shop.shared",
    "shop.access",
    "inventory",
    "orders",
    "shop.staff",
    "shop",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "shop.access.middleware.WhoIsHere",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

ROOT_URLCONF = "shop.urls"
WSGI_APPLICATION = "shop.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "access.Person"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "shop.staff.context.sheet",
            ],
        },
    },
]

DATABASES = {"default": env.database("BICKERN_DATABASE_URL", DATA / "bickern.sqlite3")}
ATOMIC_REQUESTS = False

PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Strict"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = BEHIND_TLS
SESSION_COOKIE_NAME = "__Host-session" if BEHIND_TLS else "bickern_session"
CSRF_COOKIE_NAME = "__Host-csrf" if BEHIND_TLS else "bickern_csrf"
TABLET_COOKIE_NAME = "__Host-tablet" if BEHIND_TLS else "bickern_tablet"
SECURE_HSTS_SECONDS = 31536000 if BEHIND_TLS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = BEHIND_TLS
SECURE_SSL_REDIRECT = False
SECURE_CONTENT_TYPE_NOSNIFF = True
# Not "no-referrer": browsers then send "Origin: null" with every form, which the check against forged forms refuses.
# Pages with a secret in their address (feeds) set no-referrer themselves.
SECURE_REFERRER_POLICY = "same-origin"
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_TLS else None
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}

DATA_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
# The whole of a form with its file, before any of it is read: of somebody who has come in, and of anybody else.
LARGEST_FORM, LARGEST_OF_A_STRANGER = 21_000_000, 1_000_000
DATA_UPLOAD_MAX_NUMBER_FILES = 3
FILE_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024
MEDIA_ROOT = DATA / "files"

LANGUAGE_CODE = "en"
USE_I18N = False
USE_TZ = True
TIME_ZONE = env.text("BICKERN_TIME_ZONE", "UTC")

STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"  # stays empty: WHITENOISE_USE_FINDERS serves from the source, yet wants the folder
STATIC_ROOT.mkdir(exist_ok=True)
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedStaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["shop.api.keys.KeyAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["shop.api.keys.HasScope"],
    "DEFAULT_PARSER_CLASSES": ["shop.api.parser.GuardedJSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "shop.api.describe.Schema",
    "EXCEPTION_HANDLER": "shop.api.problems.handle",
    "UNAUTHENTICATED_USER": None,
    "URL_FORMAT_OVERRIDE": None,
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Bickern",
    "DESCRIPTION": "Stock book, order book and planner of a small forge.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "ENUM_NAME_OVERRIDES": {"BuyerBodyKindEnum": ["one-off", "dealer"]},  # the same words in two bodies, under one name
}

BROKER_SOCKET = DATA / "run" / "broker.sock"
CELERY_BROKER_URL = env.text("BICKERN_BROKER_URL", f"redis+socket://{BROKER_SOCKET}")

SMTP_HOST = env.text("BICKERN_SMTP_HOST")
SMTP_PORT = env.whole("BICKERN_SMTP_PORT", 25)
SMTP_USER = env.text("BICKERN_SMTP_USER")
SMTP_PASSWORD = env.text("BICKERN_SMTP_PASSWORD")
SMTP_STARTTLS = env.yes("BICKERN_SMTP_STARTTLS")
SMTP_TLS = env.yes("BICKERN_SMTP_TLS")
SMTP_TIMEOUT_SECONDS = env.whole("BICKERN_SMTP_TIMEOUT", 20)
MAIL_FROM = env.text("BICKERN_MAIL_FROM", "bickern@localhost")

BACKUP_FOLDER = env.folder("BICKERN_BACKUP_FOLDER", DATA / "backup")
BACKUP_KEEP = env.whole("BICKERN_BACKUP_KEEP", 14)

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "filters": {"no_secrets": {"()": "shop.shared.quiet.NoSecrets"}},
    "handlers": {"out": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["no_secrets"]}},
    "root": {"handlers": ["out"], "level": env.text("BICKERN_LOG_LEVEL", "INFO")},
}
