"""How the site is put together."""

from django.contrib import admin
from django.contrib.auth.views import LogoutView, PasswordChangeView
from django.urls import URLPattern, URLResolver, include, path, reverse_lazy

from inventory.core.roles import Capability
from inventory.forms import NewPasswordForm
from inventory.views.guard import requires
from inventory.views.sign_in import SignIn

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path(
        "password/",
        requires(Capability.SEE)(
            PasswordChangeView.as_view(
                form_class=NewPasswordForm,
                template_name="registration/new_password.html",
                success_url=reverse_lazy("campus"),
            )
        ),
        name="password",
    ),
    path("admin/", admin.site.urls),
    path("", include("planner.urls")),
]
