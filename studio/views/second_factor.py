"""The second step of the sign-in: allauth's own pages, with our addresses to go on to."""

from allauth.mfa.totp.views import ActivateTOTPView, DeactivateTOTPView
from django.urls import reverse, reverse_lazy


class SetUpView(ActivateTOTPView):  # type: ignore[misc] # untyped library
    """Shows the secret, and takes the first code."""

    def get_success_url(self) -> str:
        """Go on to the recovery codes, or back to the settings where there are some already."""
        made = self.did_generate_recovery_codes
        return reverse("mfa_view_recovery_codes" if made else "studio:settings_sign_in")


class RemoveView(DeactivateTOTPView):  # type: ignore[misc] # untyped library
    """Takes the second step away."""

    success_url = reverse_lazy("studio:settings_sign_in")
