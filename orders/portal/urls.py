"""Page routes: customers, what scanned codes lead to, and every issued paper."""

from django.urls import URLPattern, path

from orders.portal import colleague_views as colleagues
from orders.portal import customer_views as customers
from orders.portal import delivered_views as delivered
from orders.portal import home_views as home
from orders.portal import limits_views as limits
from orders.portal import own_views as own
from orders.portal import paper_views as papers

urlpatterns: list[URLPattern] = [
    # /home/, of a signed-in customer
    path("home/", home.customer_home, name="customer_home"),
    path("home/papers/", home.papers_by_lot, name="papers_by_lot"),
    path("home/addresses/", own.own_places, name="own_places"),
    path("home/addresses/new/", own.own_place, name="own_place_new"),
    path("home/addresses/<int:pk>/", own.own_place, name="own_place"),
    path("home/mails/", own.own_mails, name="own_mails"),
    path("home/colleagues/", colleagues.colleagues, name="colleagues"),
    path(
        "home/colleagues/<int:pk>/ordering/",
        colleagues.colleague_may_order,
        name="colleague_may_order",
    ),
    path("home/colleagues/<int:pk>/login/", colleagues.colleague_login, name="colleague_login"),
    path("customers/", customers.customer_list, name="customer_list"),
    path("customers/options/", customers.customer_options, name="customer_options"),
    path("customers/new/", customers.customer_new, name="customer_new"),
    path("customers/limits/", limits.limits_list, name="limits_list"),
    # /customers/<pk>/
    path("customers/<int:pk>/", customers.customer_detail, name="customer_detail"),
    path("customers/<int:pk>/edit/", customers.customer_edit, name="customer_edit"),
    path("customers/<int:pk>/terms/", customers.customer_terms, name="customer_terms"),
    path("customers/<int:pk>/limits/", limits.customer_limits, name="customer_limits"),
    path(
        "customers/<int:pk>/limits/confirm/",
        limits.customer_limits_confirm,
        name="customer_limits_confirm",
    ),
    path(
        "customers/<int:pk>/people/<int:person_pk>/ordering/",
        limits.customer_may_order,
        name="customer_may_order",
    ),
    path(
        "customers/<int:pk>/people/<int:person_pk>/owner/",
        colleagues.customer_owner,
        name="customer_owner",
    ),
    path("customers/<int:pk>/people/", customers.customer_add_person, name="customer_add_person"),
    path(
        "customers/<int:pk>/mails/<int:mail_pk>/resend/",
        customers.customer_mail_resend,
        name="customer_mail_resend",
    ),
    path("customers/<int:pk>/ship-tos/", customers.customer_ship_to, name="customer_add_ship_to"),
    path(
        "customers/<int:pk>/ship-tos/<int:ship_to_pk>/",
        customers.customer_ship_to,
        name="customer_ship_to",
    ),
    path("papers/<int:pk>.pdf", papers.paper, name="paper"),
    path("packages/<str:serial>/", delivered.package_page, name="package_page"),
    path("batches/<str:number>/parts/<int:position>/", delivered.part_page, name="part_page"),
]
