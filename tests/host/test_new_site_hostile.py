"""Hostile answers to `leafwinch new` never make a broken or a different site file."""

import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from leafwinch_host.new_site.questions import BY_KEY
from leafwinch_host.new_site.site_text import site_text
from leafwinch_sim.site import Site, parse_site
from leafwinch_wiring.errors import BadInput
from tests.host.new_site import FEW, answered, told


@settings(max_examples=150, deadline=None)
@given(name=st.text(max_size=50), summary=st.text(max_size=130))
def test_any_name_or_summary_is_refused_or_kept_word_by_word(name: str, summary: str) -> None:
    usual = answered(told(FEW))
    for key, words in (("name", name), ("summary", summary)):
        try:
            answers = answered({**told(FEW), key: (words,)})
        except BadInput:
            continue
        text = site_text(answers)
        document = tomllib.loads(text)
        assert document[key] == " ".join(words.split())
        document[key] = usual.one(key)
        assert document == tomllib.loads(site_text(usual))


@settings(max_examples=150, deadline=None)
@given(
    key=st.sampled_from(sorted(set(BY_KEY) - {"name", "summary"})),
    words=st.text(max_size=40)
    | st.from_regex(r"\A-?\d{1,4}(\.\d)?( ?)(m|mm|kg|N|A|deg|%|m/min|ft|lbf)[\"\n'\]#= ]?\Z"),
)
def test_any_answer_is_refused_or_fills_only_its_own_keys(key: str, words: str) -> None:
    try:
        answers = answered({**told({**FEW, "cable_length": "15 m"}), key: (words,)})
        site = parse_site(site_text(answers).encode(), "a site")
    except (BadInput, ValueError):
        return
    assert site.name == "my-pit"
    assert set(tomllib.loads(site_text(answers))) <= {*Site.model_fields}
