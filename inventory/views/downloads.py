"""Files to keep: one way to hand them out."""

from django.http import HttpResponse

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
CSV = "text/csv; charset=utf-8"
ANY = "application/octet-stream"


def download(content: bytes, name: str, content_type: str = ANY) -> HttpResponse:
    """Answer with a file to keep under this name."""
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(content, content_type=content_type, headers=headers)
