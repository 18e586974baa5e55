"""What the client's sheet says where a place isn't the one: what was found, what else there is."""

from __future__ import annotations

from collections.abc import Mapping

from assess.insertion import Finding
from assess.talk.sentences import OWN, Sentence


def _found(name: str, text: str) -> Sentence:
    return Sentence(f"found.{name}", text, "What was found is said plainly and kindly.", OWN)


FOUND: Mapping[Finding, Sentence] = {
    "rim too narrow": _found("narrow", "The rim is too narrow here for a post."),
    "rim too thick": _found("thick", "The rim is too thick here for a post."),
    "too little relief": _found("relief", "The rim stands out too little here."),
    "too little tissue beside the post": _found(
        "beside", "There would be too little skin and rim beside the post."
    ),
    "too little room below": _found("below", "Below the rim there is too little room."),
    "soft tissue": _found("soft", "The rim is soft here and would not hold a post well."),
    "vessel in the way": _found("vessel", "A small blood vessel runs where the post would go."),
    "scar, lump or irritation": _found("skin", "The skin here has a mark that is left in peace."),
    "too near an earlier piercing": _found("near", "It would be too close to an older piercing."),
    "something worn would touch": _found("worn", "Something that you wear would touch it."),
    "client prefers another place": _found("wish", "You like another place better."),
}
NOTHING_AGAINST = Sentence(
    "found.kind", "That says nothing against your ear.", "A no hurts less so.", OWN
)
ELSEWHERE = Sentence(
    "found.elsewhere", "We talked about other places: {places}.", "A no needs a way on.", OWN
)

NOT_HERE: tuple[Sentence, ...] = (*FOUND.values(), NOTHING_AGAINST, ELSEWHERE)
