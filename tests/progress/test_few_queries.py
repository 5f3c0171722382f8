"""How much each page asks of the database, at any number of students and months.

What only opens and closes a transaction is not counted. The limits are budgets of our own.
"""

import re
from contextlib import contextmanager
from datetime import timedelta
from urllib.parse import urlencode

import pytest
from django.db import connection
from django_scopes import scope

from progress.queries.kept_months import STORE
from tests import makers

pytestmark = pytest.mark.django_db
MOST = {"overview": 12, "today": 6, "check-in": 8}
OF_A_TRANSACTION = ("BEGIN", "SAVEPOINT", "RELEASE", "ROLLBACK", "COMMIT")


GROWS = re.compile(
    r"SCAN (progress_checkin|progress_lessonrating|routines_block\w*|studio_student|studio_grant)\b"
    r"(?! USING (COVERING )?INDEX)"
)


@contextmanager
def counted():
    """List what is asked meanwhile."""
    asked: list[str] = []

    def count(execute, sql, params, many, context):
        if not sql.startswith(OF_A_TRANSACTION):
            asked.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(count):
        yield asked


@contextmanager
def explained():
    """List how SQLite would look for the rows of what is asked meanwhile."""
    steps: list[str] = []

    def explain(execute, sql, params, many, context):
        if sql.startswith("SELECT"):
            with connection.cursor() as cursor:
                plan = cursor.cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params or ())
                steps.extend(row[-1] for row in plan.fetchall())
        return execute(sql, params, many, context)

    with connection.execute_wrapper(explain):
        yield steps


@pytest.fixture(params=[(1, 1), (4, 5)], ids=["1 student, 1 month", "4 students, 5 months"])
def studio(request, teacher):
    """A studio of some students with some months each, the last one running."""
    students, months = request.param
    studio = makers.studio_of(teacher)
    for number in range(students):
        student = makers.a_student(studio, name=f"Student {number}")
        for back in range(months):
            first = makers.today(studio) - timedelta(days=7 + 28 * back)
            block = makers.a_block(student, first_day=first)
            makers.a_check_in(student, block=block, day=first)
        makers.a_discomfort(student)
        makers.an_interruption(student)
    return studio


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def paired(studio):
    with scope(studio=studio):
        student = studio.student_set.order_by("pk")[0]
    return makers.a_grant(student, last_day=makers.today(studio))


@pytest.mark.parametrize("known", ["nothing", "all but one", "everybody"])
def test_the_overview_asks_little_whatever_it_knows(studio, teacher, known):
    desk = makers.signed_in(teacher)
    STORE.forget()
    if known != "nothing":
        desk.get("/overview")
    if known == "all but one":
        makers.a_student(studio, name="New")

    with counted() as asked:
        assert desk.get("/overview").status_code == 200

    assert len(asked) == MOST["overview"]


def test_today_asks_little(paired):
    with counted() as asked:
        page = makers.a_phone(paired).get(f"/practice/{paired.grant.student.public_id}")

    assert page.status_code == 200
    assert len(asked) <= MOST["today"]


def test_a_check_in_asks_little(paired):
    phone = makers.a_phone(paired, headers={"Accept": "application/json"})
    student = paired.grant.student

    def file() -> int:
        answers = makers.the_answers(day=makers.today(student.studio))
        path = f"/practice/{student.public_id}/check-in"
        form = "application/x-www-form-urlencoded"
        return phone.post(path, urlencode(answers), content_type=form).status_code

    assert file() == 201
    with counted() as asked:
        assert file() == 201

    assert len(asked) <= MOST["check-in"], "\n".join(sql[:90] + " … " + sql[-60:] for sql in asked)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite says how it looks for rows")
@pytest.mark.parametrize("page", ["overview", "today", "student"])
def test_no_page_goes_through_a_whole_table(paired, teacher, page):
    student = paired.grant.student.public_id
    browsers = {"today": makers.a_phone(paired)}
    address = {"overview": "/overview", "today": f"/practice/{student}"}
    STORE.forget()

    with explained() as steps:
        desk = browsers.get(page) or makers.signed_in(teacher)
        assert desk.get(address.get(page, f"/students/{student}")).status_code == 200

    assert [step for step in steps if GROWS.match(step)] == []
    assert any(step.startswith("SEARCH progress_checkin USING INDEX") for step in steps)


def test_a_table_gone_through_is_found():
    assert GROWS.match("SCAN progress_checkin")
    assert not GROWS.match("SEARCH progress_checkin USING INDEX check_in_of_day (student_id=?)")
