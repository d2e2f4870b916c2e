"""All settings, read from the environment (`PLANT_*`). Without any, the embedded default on SQLite."""

from pathlib import Path

import dj_database_url

from plant import env

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(env.text("DATA_DIR", str(BASE_DIR / "var")))
DATA_DIR.mkdir(parents=True, exist_ok=True)

DEBUG = env.flag("DEBUG")
SECRET_KEY = env.text("SECRET_KEY")
if not SECRET_KEY:
    raise env.BadSetting(
        "PLANT_SECRET_KEY is not set. Start with `./dev run`, which makes one, or set it to 50 random characters."
    )
ALLOWED_HOSTS = env.words("ALLOWED_HOSTS", "127.0.0.1,localhost,[::1]")
CSRF_TRUSTED_ORIGINS = env.words("TRUSTED_ORIGINS")
BASE_URL = env.text("BASE_URL", "http://127.0.0.1:8000")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_htmx",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "plant.web",
    "plant.jobs",
    "plant.audit",
    "plant.people",
    "plant.floor",
    "plant.reports",
    "plant.records",
    "plant.tablet",
    "plant.api",
    "training",
    "rollers",
    "rollers.causes",
    "plant",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "plant.web.middleware.SecurityHeaders",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "plant.floor.middleware.PlantTime",
    "plant.people.middleware.SignedIn",
    "plant.people.language.OwnLanguage",
    "plant.records.middleware.GuestReading",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "plant.web.middleware.Refusals",
]

ROOT_URLCONF = "plant.urls"
WSGI_APPLICATION = "plant.wsgi.application"
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
                "plant.nav.shell",
            ],
            "libraries": {"ui": "plant.web.templatetags.ui"},
        },
    }
]

DATABASES = {
    "default": dj_database_url.parse(
        env.text("DATABASE_URL", f"sqlite:///{DATA_DIR / 'bandkeeper.sqlite3'}"), conn_max_age=60
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Without IMMEDIATE, two writers that read first get "database is locked"; WAL lets readers go on meanwhile.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;",
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "people.Person"
AUTHENTICATION_BACKENDS = ["plant.people.backends.ByPassword"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.ScryptPasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
# NIST SP 800-63B: length and a blocklist, no composition rules, no forced periodic change.
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 15}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "plant.people.guessing.HardToGuess"},
]
LOGIN_URL = "people:sign-in"
LOGIN_REDIRECT_URL = "home"

HTTPS = env.flag("HTTPS")
SESSION_COOKIE_NAME = "__Host-bandkeeper" if HTTPS else "bandkeeper"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 12 * 3600
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
if env.flag("BEHIND_PROXY"):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [BASE_DIR / "locale"]
FORMAT_MODULE_PATH = ["plant.formats"]
USE_TZ = True
TIME_ZONE = "UTC"
USE_I18N = True

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
WHITENOISE_USE_FINDERS = True
MEDIA_ROOT = DATA_DIR / "media"

CELERY_BROKER_URL = env.text("BROKER_URL")
JOBS_IN_SUBPROCESS = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_BEAT_SCHEDULE = {"tick": {"task": "plant.jobs.tasks.tick", "schedule": 30.0}}

MAIL = env.mail_server("EMAIL_URL")
EMAIL_HOST, EMAIL_PORT, EMAIL_HOST_USER, EMAIL_HOST_PASSWORD, EMAIL_USE_TLS, EMAIL_USE_SSL = MAIL
EMAIL_TIMEOUT = 10
DEFAULT_FROM_EMAIL = env.text("EMAIL_FROM", "bandkeeper@localhost")

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "plant.api.refusals.answer",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Bandkeeper",
    "DESCRIPTION": "May this line run this product now? The same services as the screens.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    # Somebody else's host name in a request is answered 400; it is not our trouble and needs no traceback.
    "loggers": {"django.security.DisallowedHost": {"handlers": [], "propagate": False}},
}
