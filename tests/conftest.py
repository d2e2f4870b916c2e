"""The cast of the invented plant, a fixed clock, and what the database tests need."""

from datetime import date
from functools import cached_property
from typing import Any

import pytest
from django.conf import settings
from django.db.backends.base.operations import BaseDatabaseOperations
from django.test import Client

from plant.people.models import Person
from tests import make

# Scrypt is slow on purpose; the tests sign in thousands of times.
settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher", *settings.PASSWORD_HASHERS]
settings.JOBS_IN_SUBPROCESS = False


class Cast:
    """The persons of the plant, made when first asked for."""

    @cached_property
    def ines(self) -> Person:
        return make.person("Ines Varga", "operator", skills="aware apply")

    @cached_property
    def tomas(self) -> Person:
        return make.person("Tomas Brandl", "operator", skills="aware apply food")

    @cached_property
    def mei(self) -> Person:
        return make.person("Mei Okafor", "operator", skills="aware apply medical")

    @cached_property
    def rui(self) -> Person:
        return make.person("Rui Castell", "operator", skills="aware apply", until=date(2026, 3, 25))

    @cached_property
    def lena(self) -> Person:
        return make.person("Lena Oduya", "operator", skills="aware apply check medical")

    @cached_property
    def hanna(self) -> Person:
        return make.person("Hanna Lindqvist", "supervisor", skills="aware")

    @cached_property
    def babak(self) -> Person:
        return make.person("Babak Nouri", "supervisor", skills="aware apply check food")

    @cached_property
    def dara(self) -> Person:
        return make.person("Dara Whitlow", "engineer", "assessor", skills="aware apply check size assess")

    @cached_property
    def yuki(self) -> Person:
        return make.person("Yuki Sandoval", "qa", skills="aware apply check food medical")

    @cached_property
    def kwame(self) -> Person:
        return make.person("Kwame Torres", "maintenance", skills="aware apply hot")

    @cached_property
    def greta(self) -> Person:
        return make.person("Greta Munro", "trainer", "assessor", skills="aware apply teach assess")

    @cached_property
    def sol(self) -> Person:
        return make.person("Sol Ivanek", "manager", skills="aware")

    @cached_property
    def keeper(self) -> Person:
        return make.person("Noor Adeyemi", "keeper")


@pytest.fixture
def cast(db: None) -> Cast:
    return Cast()


@pytest.fixture
def signed_in(db: None) -> Any:
    """`signed_in(person)` gives a Django test client."""

    def enter(person: Person) -> Client:
        client = Client(raise_request_exception=True)
        client.force_login(person, backend=settings.AUTHENTICATION_BACKENDS[0])
        return client

    return enter


GUARDED_SQL = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"


def _flush_under_guard(self: BaseDatabaseOperations, sql_list: list[str]) -> None:
    """Emptying the database after a test that committed must pass the triggers that refuse deletion."""
    with self.connection.cursor() as cursor:
        if self.connection.vendor == "sqlite":
            triggers = cursor.execute(GUARDED_SQL).fetchall()
            for name, _ in triggers:
                cursor.execute(f"DROP TRIGGER {name}")
        else:
            cursor.execute("SET session_replication_role = replica")
    _plain_flush(self, sql_list)
    with self.connection.cursor() as cursor:
        if self.connection.vendor == "sqlite":
            for _, sql in triggers:
                cursor.execute(sql)
        else:
            cursor.execute("SET session_replication_role = DEFAULT")


_plain_flush = BaseDatabaseOperations.execute_sql_flush
BaseDatabaseOperations.execute_sql_flush = _flush_under_guard  # type: ignore[method-assign]
