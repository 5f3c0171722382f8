"""Addresses of what is played: students' instruments, blocks, the session."""

from django.urls import path

from routines.views import blocks, change, player, students

app_name = "routines"

urlpatterns = [
    path("students", students.students, name="students"),
    path("students/new", students.add_student, name="add_student"),
    path("students/<slug:student_id>/details", students.change_student, name="change_student"),
    path("students/<slug:student_id>/archive", students.archive_student, name="archive_student"),
    path("blocks/assign", blocks.assign, name="assign"),
    path("blocks/preview", blocks.preview, name="preview"),
    path("blocks/assigned/<slug:batch>", blocks.assigned, name="assigned"),
    path("blocks/assigned/<slug:batch>/undo", blocks.undo_assign, name="undo_assign"),
    path("blocks/<slug:block_id>/change", change.change_block, name="change_block"),
    path("practice/<slug:student_id>/session", player.play, name="session"),
]
