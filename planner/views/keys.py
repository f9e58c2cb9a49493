"""Keys in addresses: any text a workbook may hold, slashes and dots included, as one harmless part of a path."""

import re
from urllib.parse import quote, unquote_to_bytes


class KeyConverter:
    """A key with everything but letters, digits, `-` and `_` written as `~` and two hexadecimal digits a byte.

    Browsers take `../` out of an address even where it is written %2e%2e%2f, so that percent signs do not do.
    """

    regex = r"[A-Za-z0-9_\-]*(?:~[0-9A-F]{2}[A-Za-z0-9_\-]*)*"

    def to_url(self, key: str) -> str:
        """Return the key as it stands in an address.

        >>> KeyConverter().to_url("../B1 L0")
        '~2E~2E~2FB1~20L0'

        """
        return re.sub(r"[.~]", lambda found: f"%{ord(found[0]):02X}", quote(key, safe="")).replace("%", "~")

    def to_python(self, text: str) -> str:
        """Return the key that an address names; ValueError where it is no text, or holds what no key may."""
        key = unquote_to_bytes(text.replace("~", "%")).decode()
        if not key or "\0" in key:
            raise ValueError(text)
        return key
