"""The invented people of the works, in plain words: no Django here, so that scripts can read it."""

from dataclasses import dataclass

# For the demo plant only: it is printed for everybody to read and protects nothing.
DEMO_PASSWORD = "tarn hollow is invented"  # noqa: S105


@dataclass(frozen=True)
class Member:
    """One person: short name, staff number, full name, roles, skills, and what to try with this sign-in."""

    key: str
    staff_no: str
    name: str
    roles: tuple[str, ...]
    skills: tuple[str, ...]
    shift: str
    try_this: str


STAFF = (
    Member("noor", "100", "Noor Adeyemi", ("keeper",), (), "Early", "system keeper: people, roles, starter codes"),
    Member(
        "ines", "101", "Ines Varga", ("operator",), ("aware", "apply"), "Early", "operator on line A: tape in room G1"
    ),
    Member(
        "tomas",
        "102",
        "Tomas Brandl",
        ("operator",),
        ("aware", "apply", "food"),
        "Early",
        "operator on line B: tape in the food room",
    ),
    Member(
        "mei",
        "103",
        "Mei Okafor",
        ("operator",),
        ("aware", "apply", "medical"),
        "Late",
        "operator on line C: tape in the medical room",
    ),
    Member(
        "rui",
        "104",
        "Rui Castell",
        ("operator",),
        ("aware", "apply"),
        "Night",
        "operator on line D: his Apply ends on Wednesday",
    ),
    Member(
        "lena",
        "105",
        "Lena Oduya",
        ("operator",),
        ("aware", "apply", "check", "medical"),
        "Night",
        "operator on lines C and D: also checks",
    ),
    Member(
        "hanna",
        "110",
        "Hanna Lindqvist",
        ("supervisor",),
        ("aware",),
        "Early",
        "shift supervisor: ready board, product sheets, approving, releasing",
    ),
    Member(
        "babak",
        "111",
        "Babak Nouri",
        ("supervisor",),
        ("aware", "apply", "check", "food"),
        "Night",
        "night supervisor, who may also tape and check",
    ),
    Member(
        "dara",
        "120",
        "Dara Whitlow",
        ("engineer", "assessor"),
        ("aware", "apply", "check", "size", "assess"),
        "Early",
        "process engineer: sizes recipes, may not approve her own",
    ),
    Member(
        "yuki",
        "130",
        "Yuki Sandoval",
        ("qa",),
        ("aware", "apply", "check", "food", "medical"),
        "Early",
        "QA: second signature in food and medical rooms, surveys",
    ),
    Member(
        "kwame",
        "140",
        "Kwame Torres",
        ("maintenance",),
        ("aware", "apply", "hot"),
        "Late",
        "maintenance: rollers, swaps, gauges, measurements",
    ),
    Member(
        "greta",
        "150",
        "Greta Munro",
        ("trainer", "assessor"),
        ("aware", "apply", "teach", "assess"),
        "Early",
        "trainer: certificates",
    ),
    Member("edda", "170", "Edda Solberg", ("storekeeper",), ("aware",), "Early", "storekeeper: lots, reels, knives"),
    Member("sol", "160", "Sol Ivanek", ("manager",), ("aware",), "Early", "plant manager: looks at everything"),
    Member(
        "tilda",
        "106",
        "Tilda Roos",
        ("operator",),
        ("aware",),
        "Late",
        "trainee: her path to Apply is half done",
    ),
)
GUEST = Member(
    "pia", "901", "Pia Hollander", ("guest",), (), "", "outside consultant, dated access: looks, signs nothing"
)
