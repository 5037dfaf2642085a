"""Overlays of the tiny rule base, each with one mistake, and the lines that tell it."""

from __future__ import annotations

BROKEN: dict[str, tuple[dict[str, str], list[str]]] = {
    "adds_a_name_that_exists": (
        {"parts/flap.yaml": "causes:\n  grit:\n    text: x\n"},
        [
            "OVER/parts/flap.yaml:2:3: error: causes: 'grit' is in the rule base already; write what differs under "
            "'changed'",
            "BASE/parts/flap.yaml:11:3: note: it stands here",
        ],
    ),
    "adds_a_key_that_exists": (
        {"limits/plain_town.yaml": "title: Mine\n"},
        [
            "OVER/limits/plain_town.yaml:1:1: error: 'title' is in the rule base already; to change it, write it under "
            "'changed'",
            "BASE/limits/plain_town.yaml:2:1: note: it stands here",
        ],
    ),
    "adds_a_single_thing": (
        {"scales.yaml": "unlisted: {rate: 0.02}\n"},
        [
            "OVER/scales.yaml:1:1: error: 'unlisted' is in the rule base already; to change it, write it under "
            "'changed'",
            "BASE/scales.yaml:10:1: note: it stands here",
        ],
    ),
    "changes_a_name_that_is_not_there": (
        {"parts/flap.yaml": "changed:\n  causes:\n    grid: {share: 1, source: estimate}\n"},
        [
            "OVER/parts/flap.yaml:3:5: error: changed, causes: there is no 'grid'; did you mean 'grit'?",
            "BASE/parts/flap.yaml:11:3: note: 'grit' stands here",
        ],
    ),
    "changes_a_section_that_is_not_there": (
        {"parts/flap.yaml": "changed:\n  causas:\n    grit: {share: 1, source: estimate}\n"},
        [
            "OVER/parts/flap.yaml:2:3: error: changed: the file has no 'causas'; did you mean 'causes'?",
            "BASE/parts/flap.yaml:10:1: note: 'causes' stands here",
        ],
    ),
    "changes_a_situation_that_is_not_there": (
        {
            "assemblies/twin.yaml": "changed:\n  drawn:\n    situations:\n"
            "      - {name: at_rets, title: At rest, says: Nothing moves.}\n"
        },
        [
            "OVER/assemblies/twin.yaml:4:16: error: situation: there is no 'at_rets' whose place it could take; did "
            "you mean 'at_rest'? A new one needs a name less like it"
        ],
    ),
    "changes_under_a_misspelt_word": (
        {"parts/flap.yaml": "chanhed:\n  causes:\n    grit: {share: 1, source: estimate}\n"},
        ["OVER/parts/flap.yaml:1:1: error: no such key 'chanhed'; did you mean 'changed'?"],
    ),
    "changes_a_retired_name": (
        {"assemblies/twin.yaml": "changed:\n  findings:\n    old_drip: {title: x, source: estimate}\n"},
        [
            "OVER/assemblies/twin.yaml:3:5: error: changed, findings: there is no 'old_drip'; it is retired, "
            "replaced by "
            "'port_drips'",
            "BASE/assemblies/twin.yaml:60:3: note: 'port_drips' stands here",
        ],
    ),
    "changes_a_file_that_is_not_there": (
        {"parts/flab.yaml": "changed:\n  causes: {}\n"},
        [
            "OVER/parts/flab.yaml:1:1: error: changed: there is nothing to change, for the rule base has no file "
            "'parts/flab.yaml'; did you mean 'parts/flap.yaml'?",
        ],
    ),
    "changes_the_same_twice": (
        {"parts/flap.yaml": "changed:\n  causes:\n    grit: {share: 1, source: estimate, share: 2}\n"},
        [
            "OVER/parts/flap.yaml:3:40: error: key 'share' stands here a second time",
            "OVER/parts/flap.yaml:3:12: note: first here",
        ],
    ),
    "changes_what_it_adds": (
        {"scales.yaml": "words: {rarely: 0.05}\nchanged: {words: {rarely: 0.04}}\n"},
        [
            "OVER/scales.yaml:2:19: error: changed, words: 'rarely' is added by this overlay; write it there as it "
            "shall be"
        ],
    ),
    "changes_a_number_without_a_source": (
        {"parts/flap.yaml": "changed:\n  causes:\n    grit: {share: 1}\n"},
        [
            "OVER/parts/flap.yaml:3:11: error: changed, causes, 'grit': 'source' is missing; say what the change "
            "rests on "
            "('estimate' for a number of your own)",
            "BASE/parts/flap.yaml:16:5: note: the old one vouches for these",
        ],
    ),
    "changes_a_number_without_a_date": (
        {"limits/gauge.yaml": "changed: {gauge accuracy: {at most: 0.3 psid, source: estimate}}\n"},
        [
            "OVER/limits/gauge.yaml:1:27: error: changed, gauge accuracy: 'checked' is missing; say in which month "
            "it was "
            "compared with its source",
            "BASE/limits/gauge.yaml:4:3: note: the old one vouches for these",
        ],
    ),
    "changes_what_an_authority_asks": (
        {"limits/plain_town.yaml": "changed: {limits: {flap_minimum: {at least: 0.1 psid}}}\n"},
        [
            "OVER/limits/plain_town.yaml:1:20: error: changed, limits: 'flap_minimum' is what this profile's authority "
            "asks; write a profile of your own",
            "BASE/limits/plain_town.yaml:6:3: note: it stands here",
        ],
    ),
    "takes_a_caution_of_a_repair_away": (
        {"parts/flap.yaml": "changed: {repairs: {clean: {cautions: [], source: estimate}}}\n"},
        [
            "OVER/parts/flap.yaml:1:39: error: repairs, clean, cautions: the caution 'spring' cannot be taken "
            "away, only "
            "others added",
            "BASE/parts/flap.yaml:95:5: note: the rule base gives it here",
        ],
    ),
    "takes_a_state_with_its_cautions_away": (
        {"parts/flap.yaml": "changed: {repairs: {clean: {states: [gauge], source: estimate}}}\n"},
        [
            "OVER/parts/flap.yaml:1:37: error: repairs, clean, states: the state 'opened' cannot be taken away, only "
            "others added",
            "BASE/parts/flap.yaml:94:5: note: the rule base gives it here",
        ],
    ),
    "takes_a_caution_off_every_sheet": (
        {"cautions.yaml": "changed: {cautions: {local_rules: {always: no, source: estimate}}}\n"},
        [
            "OVER/cautions.yaml:1:44: error: cautions, local_rules, always: the caution 'local_rules' cannot be taken "
            "away, only others added",
            "BASE/cautions.yaml:4:5: note: the rule base gives it here",
        ],
    ),
    "says_a_caution_at_some_sites_only": (
        {"cautions.yaml": "changed: {cautions: {spring: {said when: {main_works: yes}, source: estimate}}}\n"},
        [
            "OVER/cautions.yaml:1:42: error: cautions, spring, said when: the caution 'spring' cannot be taken away, "
            "only others added",
            "BASE/cautions.yaml:6:3: note: the rule base gives it here",
        ],
    ),
    "narrows_a_caution": (
        {"cautions.yaml": "changed: {cautions: {spring: {parts: [flap], source: estimate}}}\n"},
        [
            "OVER/cautions.yaml:1:38: error: cautions, spring, parts: the caution 'spring' cannot be taken away, only "
            "others added",
            "BASE/cautions.yaml:6:3: note: the rule base gives it here",
        ],
    ),
    "changes_a_thing_by_a_number": (
        {"parts/flap.yaml": "changed:\n  causes: {grit: 50}\n"},
        [
            "OVER/parts/flap.yaml:2:18: error: changed, causes, 'grit': expected the keys that differ (key: "
            "value), found "
            "text",
            "BASE/parts/flap.yaml:11:3: note: it stands here",
        ],
    ),
    "misspells_a_key_of_a_thing": (
        {"parts/flap.yaml": "changed:\n  causes:\n    grit: {shre: 1, source: estimate}\n"},
        ["OVER/parts/flap.yaml:3:12: error: cause 'grit': no such key 'shre'; did you mean 'share'?"],
    ),
    "misspells_a_cause_in_a_table": (
        {"parts/flap.yaml": "changed:\n  repairs:\n    clean: {cures: {gritt: seldom}, source: estimate}\n"},
        ["OVER/parts/flap.yaml:3:21: error: repair 'clean', cures: no cause 'gritt'; did you mean 'grit'?"],
    ),
    "adds_a_second_default": (
        {
            "limits/our_town.yaml": "profile: our_town\ntitle: x\ndefault: yes\nexplains: x\nlimits:\n"
            "  flap_minimum: {at least: 2 psid, source: estimate, checked: 2026-11}\n"
        },
        [
            "OVER/limits/our_town.yaml:3:10: error: profile 'our_town' is a second default; only one may have "
            "'default: yes'; write 'changed: {default: no}' in limits/plain_town.yaml beside it",
            "BASE/limits/plain_town.yaml:3:10: note: first here",
        ],
    ),
    "adds_a_name_of_another_file": (
        {
            "site/validity.yaml": "observations:\n  main_works:\n    title: x\n    question: x\n    how: x\n"
            "    answers: {no: x, yes: x}\n    state: gauge\n    minutes: 1\n    source: estimate\n"
        },
        [
            "BASE/site/circumstances.yaml:3:3: error: 'main_works' is defined a second time",
            "OVER/site/validity.yaml:2:3: note: first here",
        ],
    ),
    "stands_in_a_wrong_place": (
        {"part/flap.yaml": "changed: {title: x}\n"},
        [
            "OVER/part/flap.yaml:1:1: error: no rule file has this place; expected assemblies/, parts/, limits/, "
            "or one of "
            "cautions.yaml, limits/gauge.yaml, retired.yaml, scales.yaml, site/circumstances.yaml, "
            "site/conditions.yaml, "
            "site/validity.yaml, sources.yaml, states.yaml",
        ],
    ),
    "states_a_version": (
        {"version.yaml": "version: 2.0.0\n"},
        [
            "OVER/version.yaml:1:1: error: an overlay does not change the version of the rule base; name yours in the "
            "title of overlay.yaml"
        ],
    ),
    "has_another_ending": (
        {"parts/flap.yml": "changed: {title: x}\n"},
        ["OVER/parts/flap.yml: error: is not read; a rule file ends in .yaml"],
    ),
    "misspells_a_section_that_is_there": (
        {
            "assemblies/twin.yaml": "findings:\n  loud:\n    title: x\n    says: x\n    background: seldom\n"
            "    reasons: {flap_1.leaks: usually}\n    source: estimate\n"
            "rule:\n  loud:\n    premises: {port: stream}\n    finding: loud\n    reason: x\n    source: estimate\n"
        },
        ["OVER/assemblies/twin.yaml:8:1: error: assembly TWIN: no such key 'rule'; did you mean 'rules'?"],
    ),
    "has_a_section_like_no_other": (
        {"assemblies/twin.yaml": "colors: {red: x}\n"},
        [
            "OVER/assemblies/twin.yaml:1:1: error: assembly TWIN: no such key 'colors'; of 20 names the nearest are "
            "components, repairs, cautions, rules and findings"
        ],
    ),
    "concludes_a_failure_mode": (
        {
            "assemblies/twin.yaml": "rules:\n  loud_port:\n    premises: {port: stream}\n    finding: flap_1.leaks\n"
            "    reason: x\n    source: estimate\n"
        },
        [
            "OVER/assemblies/twin.yaml:4:14: error: rule 'loud_port': 'flap_1.leaks' is a failure mode; a rule "
            "concludes a finding, which has it as a reason"
        ],
    ),
    "misspells_the_file_of_a_type": (
        {"assemblies/twinn.yaml": "components:\n  lid: {part: flap, title: lid, rate: 0.1, source: estimate}\n"},
        [
            "OVER/assemblies/twinn.yaml:1:1: error: a new assembly needs 'assembly', 'title' and 'retest', and "
            "the rule base has no file 'assemblies/twinn.yaml'; did you mean 'assemblies/twin.yaml'?"
        ],
    ),
    "has_a_new_file_that_is_no_part": (
        {"parts/quay.yaml": "title: x\n"},
        [
            "OVER/parts/quay.yaml:1:1: error: a new part needs 'part', 'title', 'modes' and 'causes', and the rule "
            "base has no file 'parts/quay.yaml'; expected parts/flap.yaml"
        ],
    ),
    "misspells_the_head_of_a_new_profile": (
        {
            "limits/our_town.yaml": "profil: our_town\ntitle: x\nexplains: x\nlimits:\n"
            "  flap_minimum: {at least: 2 psid, source: estimate, checked: 2026-11}\n"
        },
        ["OVER/limits/our_town.yaml:1:1: error: limit profile: no such key 'profil'; did you mean 'profile'?"],
    ),
    "is_a_list": (
        {"parts/flap.yaml": "- causes\n"},
        ["OVER/parts/flap.yaml:1:1: error: parts/flap.yaml: expected a mapping (key: value), found a list"],
    ),
}
