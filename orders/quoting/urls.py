"""Page routes: quotes, and the quote behind its signed link."""

from django.urls import URLPattern, path

from orders.quoting import preview_views as previews
from orders.quoting import public_views as public_quotes
from orders.quoting import recipe_views as recipes
from orders.quoting import version_views as versions
from orders.quoting import views as quotes

urlpatterns: list[URLPattern] = [
    path("quotes/", quotes.quote_list, name="quote_list"),
    path("quotes/new/", quotes.quote_new, name="quote_new"),
    path("quotes/blend-options/", quotes.quote_blend_options, name="quote_blend_options"),
    path("quotes/ship-tos/", quotes.quote_ship_to_options, name="quote_ship_to_options"),
    # /quotes/<number>/
    path("quotes/<str:number>/", quotes.quote_detail, name="quote_detail"),
    path("quotes/<str:number>/edit/", quotes.quote_edit, name="quote_edit"),
    path("quotes/<str:number>/send/", quotes.quote_send, name="quote_send"),
    path("quotes/<str:number>/approve/", quotes.quote_approve, name="quote_approve"),
    path(
        "quotes/<str:number>/next-version/",
        versions.quote_next_version,
        name="quote_next_version",
    ),
    path("quotes/<str:number>/copy/", versions.quote_copy, name="quote_copy"),
    path(
        "quotes/<str:number>/lines/<int:position>/stock/",
        recipes.quote_line_stock,
        name="quote_line_stock",
    ),
    path("quotes/<str:number>/withdraw/", quotes.quote_withdraw, name="quote_withdraw"),
    path("quotes/<str:number>/decide/", quotes.quote_decide, name="quote_decide"),
    path(
        "quotes/<str:number>/mails/<int:pk>/resend/",
        quotes.quote_mail_resend,
        name="quote_mail_resend",
    ),
    path("quotes/<str:number>/draft/pdf/", previews.quote_draft_pdf, name="quote_draft_pdf"),
    path("quotes/<str:number>/draft/mail/", previews.quote_draft_mail, name="quote_draft_mail"),
    path("quotes/<str:number>/pdf/", quotes.quote_pdf, name="quote_pdf"),
    # /q/<token>/
    path("q/<str:token>/", public_quotes.quote_public, name="quote_public"),
    path("q/<str:token>/pdf/", public_quotes.quote_public_pdf, name="quote_public_pdf"),
]
