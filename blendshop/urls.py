"""Where everything is."""

from allauth.account.decorators import secure_admin_login
from django.contrib import admin
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path

from blendshop import views

admin.site.site_header = "Blendshop back office"
admin.site.site_title = "Back office"
admin.site.index_title = "Back office"
admin.site.login = secure_admin_login(admin.site.login)  # type: ignore[method-assign] # allauth's way

urlpatterns = [
    path("healthz", login_not_required(views.alive), name="alive"),
    path("readyz", login_not_required(views.ready), name="ready"),
    path("people/", include("blendshop.accounts.urls")),
    path("", include("formulas.urls")),
    path("", include("orders.urls")),
    path("api/v1/", include("blendshop.api.urls")),
    path("back-office/", admin.site.urls),
]
