"""Where everything is."""

from allauth.account.decorators import secure_admin_login
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib import admin
from django.urls import include, path
from rest_framework.authtoken.models import TokenProxy

from blendshop.monitoring import views as monitoring

admin.site.site_header = "Blendshop back office"
admin.site.site_title = "Back office"
admin.site.index_title = "Back office"
admin.site.login = secure_admin_login(admin.site.login)  # type: ignore[method-assign] # allauth's way
# Ways in: a person's own page and the server's commands change them, each with a line in the log.
admin.site.unregister([Authenticator, EmailAddress, TokenProxy, UserSession])

handler404 = "blendshop.views.not_found"
handler500 = "blendshop.views.server_error"

urlpatterns = [
    path("healthz", monitoring.alive, name="alive"),
    path("readyz", monitoring.ready, name="ready"),
    path("metrics", monitoring.metrics, name="metrics"),
    path("people/", include("blendshop.accounts.urls")),
    path("notices/", include("blendshop.notices.urls")),
    path("mails/", include("blendshop.outbox.urls")),
    path("", include("blendshop.long_work.urls")),
    path("", include("formulas.urls")),
    path("", include("orders.urls")),
    path("api/v1/", include("blendshop.api.urls")),
    path("back-office/", admin.site.urls),
]
