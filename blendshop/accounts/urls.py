"""Signing in and out, password, second factor, sessions: every address of allauth that is used.

People do not sign up, and no page changes the address somebody signs in with: the office does.
"""

from allauth.account import views as account
from allauth.mfa.base import views as mfa
from allauth.mfa.recovery_codes import views as codes
from allauth.mfa.totp import views as totp
from allauth.mfa.webauthn import views as passkeys
from django.urls import path, re_path
from django.views.generic import RedirectView

from blendshop.accounts import again_views, language_views, phone_views, set_up_views, views

urlpatterns = [
    path("login/", again_views.framed_here(set_up_views.sign_in), name="account_login"),
    path("who/", again_views.signed_in_as, name="signed_in_as"),
    path("again/", again_views.signed_in_again, name="signed_in_again"),
    path("typed/<str:key>/", again_views.typed_again, name="typed_again"),
    path("set-up/", set_up_views.set_up, name="set_up"),
    path("logout/", account.logout, name="account_logout"),
    path("inactive/", account.account_inactive, name="account_inactive"),
    path("reauthenticate/", account.reauthenticate, name="account_reauthenticate"),
    path("password/change/", account.password_change, name="account_change_password"),
    path("password/reset/", account.password_reset, name="account_reset_password"),
    path("password/reset/done/", account.password_reset_done, name="account_reset_password_done"),
    # A regular expression: the key itself holds hyphens, a path converter would split it there.
    re_path(
        r"^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        views.PasswordByLink.as_view(),
        name="account_reset_password_from_key",
    ),
    path(
        "password/reset/key/done/",
        account.password_reset_from_key_done,
        name="account_reset_password_from_key_done",
    ),
    path("second-factor/", mfa.index, name="mfa_index"),
    path(
        "second-factor/sign-in/",
        again_views.framed_here(mfa.authenticate),
        name="mfa_authenticate",
    ),
    path("second-factor/confirm/", mfa.reauthenticate, name="mfa_reauthenticate"),
    path("second-factor/app/", totp.activate_totp, name="mfa_activate_totp"),
    path("second-factor/app/remove/", totp.deactivate_totp, name="mfa_deactivate_totp"),
    path("second-factor/codes/", codes.view_recovery_codes, name="mfa_view_recovery_codes"),
    path(
        "second-factor/codes/new/",
        codes.generate_recovery_codes,
        name="mfa_generate_recovery_codes",
    ),
    path("second-factor/passkeys/add/", passkeys.add_webauthn, name="mfa_add_webauthn"),
    path(
        "second-factor/passkeys/confirm/",
        passkeys.reauthenticate_webauthn,
        name="mfa_reauthenticate_webauthn",
    ),
    path(
        "second-factor/passkeys/<int:pk>/remove/",
        passkeys.remove_webauthn,
        name="mfa_remove_webauthn",
    ),
    # Where the library goes on to once a passkey is removed; ours stand on the page above.
    path(
        "second-factor/passkeys/",
        RedirectView.as_view(pattern_name="mfa_index"),
        name="mfa_list_webauthn",
    ),
    path("", views.own_sign_in, name="own_sign_in"),
    path("language/", language_views.own_language, name="own_language"),
    path("phone/", phone_views.own_phone, name="own_phone"),
    path("sessions/<int:pk>/end/", views.end_own_session, name="own_session_end"),
    path("security-log/", views.security_log, name="security_log"),
]
