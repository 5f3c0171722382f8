"""What this app tells those that build on it, without knowing them."""

from django.dispatch import Signal

# Blocks were assigned together, and the teacher wants to hear them: `batch` names them. A receiver
# answers with the number of students it asked.
recording_wanted = Signal()
