"""How the site is put together."""

from django.contrib import admin
from django.contrib.auth.views import LoginView, LogoutView
from django.urls import URLPattern, URLResolver, include, path

from inventory.forms import SignInForm

urlpatterns: list[URLPattern | URLResolver] = [
    path(
        "sign-in/",
        LoginView.as_view(authentication_form=SignInForm, redirect_authenticated_user=True),
        name="sign-in",
    ),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("admin/", admin.site.urls),
    path("", include("inventory.urls")),
    path("", include("planner.urls")),
]
