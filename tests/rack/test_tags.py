"""If these fail, two offcuts share a tag, or a slip of the pen names another offcut."""

from __future__ import annotations

from itertools import combinations

from cutplan.rack.tags import LETTERS, is_tag, nearest_tags, number_of, tag_of, tidy

SOME = [*range(3_000), *range(30_000, 30_050)]
# What a quick hand mixes up, or somebody who holds the offcut upside down.
ALIKE = ("0ODQ", "1IL", "2Z", "5S", "8B", "6G9", "UVY", "MNH", "A4", "E3")


def test_no_two_offcuts_have_one_tag_and_the_first_are_the_shortest() -> None:
    tags = [tag_of(number) for number in range(40_000)]
    assert len(set(tags)) == len(tags)
    assert [len(tag) for tag in tags] == sorted(len(tag) for tag in tags)
    assert len(tags[168]) == 3 and len(tags[20_000]) == 5


def test_a_tag_stands_for_its_number() -> None:
    assert all(number_of(tag_of(number)) == number for number in [*SOME, 10**9, 2**53])


def test_letters_that_look_alike_are_not_both_used_and_none_is_a_vowel() -> None:
    assert all(sum(letter in LETTERS for letter in group) <= 1 for group in ALIKE)
    assert not set("AEIOUY") & set(LETTERS)


def test_one_letter_read_wrong_is_no_tag() -> None:
    for tag in map(tag_of, SOME):
        assert is_tag(tag)
        for k, letter in enumerate(tag):
            assert not any(is_tag(tag[:k] + other + tag[k + 1:]) for other in LETTERS if other != letter)


def test_two_letters_that_changed_places_are_no_tag() -> None:
    for tag in map(tag_of, SOME):
        for j, k in combinations(range(len(tag)), 2):
            if tag[j] != tag[k]:
                turned = list(tag)
                turned[j], turned[k] = tag[k], tag[j]
                assert not is_tag("".join(turned))


def test_what_was_typed_finds_the_tags_it_may_have_been() -> None:
    known = [tag_of(number) for number in range(50)]
    assert tidy(" cj-7 ") == "CJ7" == tag_of(3)
    assert "CJ7" in nearest_tags("CJ4", known) and "CJ7" in nearest_tags("JC7", known)
    assert nearest_tags("XXXXX", known) == []
