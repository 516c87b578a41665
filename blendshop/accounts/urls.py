"""Sign-in, sign-out, password reset and change, set-up: the only account pages there are."""

from allauth.account import views
from django.urls import path, re_path

from blendshop.accounts.views import set_up, sign_in

urlpatterns = [
    path("login/", sign_in, name="account_login"),
    path("set-up/", set_up, name="set_up"),
    path("logout/", views.logout, name="account_logout"),
    path("signup/", views.signup, name="account_signup"),
    path("reauthenticate/", views.reauthenticate, name="account_reauthenticate"),
    path("password/change/", views.password_change, name="account_change_password"),
    path("password/set/", views.password_set, name="account_set_password"),
    path("email/", views.email, name="account_email"),
    path("inactive/", views.account_inactive, name="account_inactive"),
    path("password/reset/", views.password_reset, name="account_reset_password"),
    path("password/reset/done/", views.password_reset_done, name="account_reset_password_done"),
    # A regular expression: the key itself holds hyphens, a path converter would split it there.
    re_path(
        r"^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        views.password_reset_from_key,
        name="account_reset_password_from_key",
    ),
    path(
        "password/reset/key/done/",
        views.password_reset_from_key_done,
        name="account_reset_password_from_key_done",
    ),
]
