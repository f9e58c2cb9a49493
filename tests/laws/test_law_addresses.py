"""Any key leads to an address and back, and the address has nothing that a browser would rewrite."""

import re

from hypothesis import given
from hypothesis import strategies as st

from planner.views.keys import KeyConverter

KEYS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), min_size=1)


@given(KEYS | st.text("./~%2E", min_size=1))
def test_a_key_comes_back_from_its_address(key: str) -> None:
    address = KeyConverter().to_url(key)
    assert re.fullmatch(KeyConverter.regex, address)
    assert not set(address) & set("./%?#")
    assert KeyConverter().to_python(address) == key
