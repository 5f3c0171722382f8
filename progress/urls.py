"""Addresses of what came of it: the teacher's overview, the student's own pages."""

from django.urls import path

from progress.views import (
    charts,
    check_in,
    downloads,
    fix_day,
    interruptions,
    lesson,
    my_month,
    offline,
    overview,
    paper,
    parent,
    practice,
    report,
    review,
    student,
    told,
)

app_name = "progress"

urlpatterns = [
    path("overview", overview.overview, name="overview"),
    path("students/<slug:student_id>", student.student, name="student"),
    path("students/<slug:student_id>/charts", charts.charts, name="charts"),
    path("students/<slug:student_id>/check-ins.csv", downloads.table, name="table"),
    path("students/<slug:student_id>/copy.json", downloads.student_copy, name="student_copy"),
    path("settings/copy", downloads.studio_copy, name="studio_copy"),
    path("lessons", lesson.lessons, name="lessons"),
    path("students/<slug:student_id>/lesson", lesson.rate, name="rate"),
    path(
        "students/<slug:student_id>/interruptions/new",
        interruptions.add_interruption,
        name="add_interruption",
    ),
    path(
        "interruptions/<slug:interruption_id>/confirm",
        interruptions.confirm_interruption,
        name="confirm_interruption",
    ),
    path(
        "interruptions/<slug:interruption_id>/end",
        interruptions.end_interruption,
        name="end_interruption",
    ),
    path(
        "interruptions/<slug:interruption_id>/remove",
        interruptions.remove_interruption,
        name="remove_interruption",
    ),
    path("check-ins/<slug:check_in_id>/day", fix_day.fix_day, name="fix_day"),
    path("check-ins/<slug:check_in_id>/put-back", fix_day.put_back, name="put_back_check_in"),
    path("students/<slug:student_id>/report", report.report, name="report"),
    path("reports", report.all_reports, name="reports"),
    path("reports/print", report.print_reports, name="print_reports"),
    path("paper", paper.charts, name="papers"),
    path("paper/<slug:block_id>", paper.chart, name="paper"),
    path("paper/<slug:block_id>/enter", paper.enter, name="enter_paper"),
    path("paper/<slug:block_id>/undo", paper.undo, name="undo_paper"),
    path("review", review.review, name="review"),
    path("review/<slug:block_id>", review.review_block, name="review_block"),
    path("decisions/<slug:decision_id>/undo", review.undo, name="undo_decision"),
    path("parent/<slug:student_id>", parent.parent, name="parent"),
    path("sw.js", offline.worker, name="worker"),
    path("manifest.webmanifest", offline.manifest, name="manifest"),
    path("practice", practice.who, name="who"),
    path("practice/phone", offline.phone_state, name="phone_state"),
    path("practice/no-signal", offline.no_signal, name="no_signal"),
    path("practice/<slug:student_id>", practice.today, name="today"),
    path("practice/<slug:student_id>/check-in", check_in.check_in, name="check_in"),
    path("practice/<slug:student_id>/saved/<slug:check_in_id>", check_in.saved, name="saved"),
    path("practice/<slug:student_id>/not-today/<slug:reason>", told.not_today, name="not_today"),
    path("practice/<slug:student_id>/hurt", told.hurt, name="hurt"),
    path("practice/<slug:student_id>/month", my_month.my_month, name="month"),
]
