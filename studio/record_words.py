"""What each line of the record says on a page."""

from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from studio.words import AuditKind

SENTENCES = {
    AuditKind.INVITED: gettext_lazy("{by} made an invitation, as {to}."),
    AuditKind.CALLED_OFF: gettext_lazy("{by} called an invitation off."),
    AuditKind.JOINED: gettext_lazy("{by} joined, as {to}."),
    AuditKind.ROLE: gettext_lazy("{by} made {about}: {to}."),
    AuditKind.LEFT: gettext_lazy("{by} ended {about}’s place here."),
    AuditKind.HANDED_OVER: gettext_lazy("{by} handed {about} over to {to}."),
    AuditKind.ERASED: gettext_lazy("{by} erased a student for good."),
    AuditKind.OFF_THE_LISTS: gettext_lazy("{by} took {about} off the lists."),
    AuditKind.BACK: gettext_lazy("{by} brought {about} back on the lists."),
    AuditKind.CONSENT: gettext_lazy("{by} changed the note of a parent’s yes for {about}."),
    AuditKind.LINK: gettext_lazy("{by} made a link or code for {about}."),
    AuditKind.SET_UP: gettext_lazy("A phone was set up for {about}."),
    AuditKind.CONFIRMED: gettext_lazy("{by} confirmed a phone of {about}."),
    AuditKind.REFUSED: gettext_lazy("{by} refused a phone of {about}."),
    AuditKind.TAKEN_BACK: gettext_lazy("{by} took back that a phone of {about} was refused."),
    AuditKind.SIGNED_OUT: gettext_lazy("{by} signed a phone of {about} out."),
    AuditKind.PARENTS_SEE: gettext_lazy("{by} chose whether parents see what hurts {about}."),
    AuditKind.COPIED_STUDENT: gettext_lazy("{by} took a copy of everything about {about}."),
    AuditKind.COPIED_STUDIO: gettext_lazy("{by} took a copy of the studio."),
    AuditKind.SETTINGS: gettext_lazy("{by} changed the studio’s settings."),
    AuditKind.RECORDINGS: gettext_lazy("{by} changed whether {about} may record."),
    AuditKind.HEARD_TAKEN: gettext_lazy("{by} took a copy of a recording of {about}."),
    AuditKind.DROPPED: gettext_lazy("What was older than the studio keeps was deleted."),
}


def sentence(kind: AuditKind, *, by: str, about: str, to: str) -> str:
    """Say one line, each name apart from the words around it."""
    names = {
        name: format_html("<bdi>{}</bdi>", given)
        for name, given in (("by", by), ("about", about), ("to", to or _("nobody in particular")))
    }
    return format_html(str(SENTENCES[kind]), **names)
