#!/usr/bin/env python3
"""Compare the project's pin maps with a published schematic symbol library.

Usage: check_symbols.py PINS.json [LIBRARY]

PINS.json holds `{"hdmi-a": {"1": "TMDS Data2+", ...}, ...}`: project connector
name, contact, signal name. LIBRARY defaults to the file that the Debian
package kicad-symbols installs.

Signal names on both sides are reduced to tokens by `classify` and the tokens
are compared contact by contact. Symbols whose pins carry no signal names are
compared by contact numbers only.

Exit status 0: no difference, or the library is absent. 1: a difference, a name
that cannot be classified, no connector compared, or the library is absent and
REQUIRE_SYMBOLS=1 is set.
"""

import json
import os
import re
import sys

LIBRARY = "/usr/share/kicad/symbols/Connector.kicad_sym"

# Project connector name -> symbols that draw it, the first that the library
# has is used. Releases of the library rename symbols. An empty list: no
# release known to have a symbol for it.
SYMBOLS = {
    "hdmi-a": ["HDMI_A_1.4", "HDMI_A"],
    "hdmi-c": ["HDMI_C_1.4", "HDMI_C_1.3", "HDMI_C"],
    "hdmi-d": ["HDMI_D_1.4", "HDMI_D"],
    "usb-a": ["USB_A"],
    "usb-b": ["USB_B"],
    "usb-mini-b": ["USB_B_Mini"],
    "usb-micro-b": ["USB_B_Micro"],
    "usb3-a": ["USB3_A"],
    "usb3-b": ["USB3_B"],
    "usb3-micro-b": ["USB3_B_Micro"],
    "usb-c-plug": ["USB_C_Plug"],
    "dvi-d": ["DVI-D_Dual_Link"],
    "ieee1394-6": ["IEEE1394a"],
    "displayport": [],
    "mini-displayport": [],
    # Contact numbers only.
    "de-9": ["DE9_Plug", "DE9_Pins", "DE9_Male", "DB9_Male"],
    "db-25": ["DB25_Plug", "DB25_Pins", "DB25_Male"],
    "de-15": ["DE15_Plug_HighDensity", "DE15_Pins_HighDensity", "DB15_Male_HighDensity"],
    "8p8c": ["8P8C_Shielded", "8P8C"],
    "6p6c": ["6P6C"],
    "din-5": ["DIN-5_180degree"],
    "mini-din-6": ["Mini-DIN-6"],
    "xlr-3": ["XLR3"],
    "xlr-5": ["XLR5"],
}

# Symbols that give contact numbers only: their pin names are empty or repeat
# the number.
NUMBERS_ONLY = {
    "de-9",
    "db-25",
    "de-15",
    "8p8c",
    "6p6c",
    "din-5",
    "mini-din-6",
    "xlr-3",
    "xlr-5",
}

# Contacts that the project may list as not fitted although the symbol has no
# such pin.
NOT_FITTED = {"usb-c-plug": {"B6", "B7"}}

# Library pin numbers that stand for the shell although the pin has no name.
SHELL_NUMBERS = {"SH", "S1", "0", "G", "SHELL", "SHIELD"}


# --- s-expressions ---------------------------------------------------------

TOKEN = re.compile(r'\s*(?:([()])|"((?:\\.|[^"\\])*)"|([^\s()"]+))', re.DOTALL)


def parse(text):
    """The first list of an s-expression file, lists as Python lists."""
    stack = [[]]
    position = 0
    end = len(text.rstrip())
    while position < end:
        match = TOKEN.match(text, position)
        if match is None:
            raise ValueError(f"bad s-expression at offset {position}")
        position = match.end()
        bracket, quoted, atom = match.groups()
        if bracket == "(":
            stack.append([])
        elif bracket == ")":
            if len(stack) == 1:
                raise ValueError(f"unexpected `)` at offset {position}")
            done = stack.pop()
            stack[-1].append(done)
        elif quoted is not None:
            stack[-1].append(re.sub(r"\\(.)", r"\1", quoted))
        else:
            stack[-1].append(atom)
    if len(stack) != 1 or not stack[0] or not isinstance(stack[0][0], list):
        raise ValueError("the s-expression is not complete")
    return stack[0][0]


def children(node, head):
    return [item for item in node if isinstance(item, list) and item and item[0] == head]


def own_pins(node):
    """(number, name) of every pin in a symbol and its units."""
    pins = []
    for pin in children(node, "pin"):
        number = children(pin, "number")[0][1]
        name = children(pin, "name")[0][1]
        pins.append((number, name))
    for unit in children(node, "symbol"):
        pins.extend(own_pins(unit))
    return pins


class Library:
    def __init__(self, text):
        self.nodes = {node[1]: node for node in children(parse(text), "symbol")}

    def __contains__(self, name):
        return name in self.nodes

    def pins(self, name, depth=0):
        """Pin number -> list of names, following `extends`."""
        if depth > 10:
            raise ValueError(f"symbol {name} extends itself")
        node = self.nodes[name]
        pins = {}
        base = children(node, "extends")
        if base:
            pins.update(self.pins(base[0][1], depth + 1))
        for number, pin_name in own_pins(node):
            names = pins.setdefault(number, [])
            if pin_name not in names:
                names.append(pin_name)
        return pins


# --- names -----------------------------------------------------------------

SIGN = {"+": "+", "-": "-", "P": "+", "N": "-"}

# Full matches on the upper-case name without spaces and underscores.
FIXED = [
    (r"(DDC/?CEC/?|CEC/?DDC/?|DDC/?|CEC/?|SIGNAL|POWER)?(GND|GROUND)(/?HEAC(SHIELD|GND|GROUND))?", "GND"),
    (r"DDC/?CEC/?HEAC(SHIELD|GND|GROUND)", "GND"),
    (r"(GND|GROUND)(RETURN)?", "GND"),
    (r"CEC", "CEC"),
    (r"(UTILITY|UTIL|RESERVED)(/?HEAC\+)?|HEAC\+(/?UTILITY)?", "UTILITY"),
    (r"(HPD|HOTPLUG(DETECT|DET)?)(/?HEAC-)?|HEAC-(/?HPD|/?HOTPLUGDETECT)?", "HPD"),
    (r"(DDC)?SCL(/?DDC(CLOCK|CLK)?)?|DDC(CLOCK|CLK)(/?SCL)?", "SCL"),
    (r"(DDC)?SDA(/?DDC(DATA|DAT)?)?|DDC(DATA|DAT)(/?SDA)?", "SDA"),
    (r"\+?5V(DC)?(POWER|PWR|SUPPLY)?|(POWER|PWR)\+?5V", "+5V"),
    (r"V-?BUS", "VBUS"),
    (r"(USB)?(D|DATA)\+|DP1?|DPLUS|D\+1", "D+"),
    (r"(USB)?(D|DATA)-|DN1?|DM|DMINUS|D-1", "D-"),
    (r"(USB|OTG)?ID(PIN|ENTIFICATION)?", "ID"),
    (r"(CABLE|OUTER|CONNECTOR)?(SH|SHIELD|SHLD|SHELL|SCREEN|BRAID|CHASSIS|PAD)(/?(SHIELD|SHELL|SCREEN))?", "SHIELD"),
    (r"(GND|GROUND)?/?DRAIN|SIGNALGNDDRAIN", "DRAIN"),
    (r"CC", "CC"),
    (r"CC1", "CC1"),
    (r"CC2", "CC2"),
    (r"V-?CONN", "VCONN"),
    (r"VP|PWR|POWER|CABLEPOWER", "POWER"),
    (r"VG", "GND"),
    (r"NC|N/C|NOTCONNECTED|NOCONNECT(ION)?|NOTFITTED|NOTUSED|UNUSED|ABSENT|NONE|OPEN", "NC"),
]
FIXED = [(re.compile(pattern), token) for pattern, token in FIXED]

TMDS = re.compile(r"(?:TMDS)?(?:DATA|D|CHANNEL|CH)([0-5])([-+PN])")
TMDS_SHIELD = re.compile(r"(?:TMDS)?(?:DATA|D|CHANNEL|CH)([0-5])(?:/[0-5])?(?:S|SH|SHLD|SHIELD|GND|GROUND)")
CLOCK = re.compile(r"(?:TMDS)?(?:CLOCK|CLK|CK)([-+PN])")
CLOCK_SHIELD = re.compile(r"(?:TMDS)?(?:CLOCK|CLK|CK)(?:S|SH|SHLD|SHIELD|GND|GROUND)")
SUPER = re.compile(r"(?:STDA|STDB|MICB|MICA|MICAB)?SS([TR]X)([-+PN])")
LANE = re.compile(r"(?:SS)?([TR]X)([12])([-+PN])")
LANE_SIGN_FIRST = re.compile(r"(?:SS)?([TR]X)([-+PN])([12])")
SIDEBAND = re.compile(r"SBU([12])")
FIREWIRE = re.compile(r"TP([AB])([-+*]?)")


def normalise(name):
    """Upper case, one kind of minus, no spaces or underscores."""
    text = name.upper()
    for minus in "\u2010\u2011\u2012\u2013\u2014\u2212":
        text = text.replace(minus, "-")
    shorter = re.sub(r"\([^)]*\)", "", text)
    if shorter.strip():
        text = shorter
    return re.sub(r"[\s_]+", "", text)


def classify(name):
    """The canonical token of a signal name of either side, or None."""
    text = normalise(name)
    for pattern, token in FIXED:
        if pattern.fullmatch(text):
            return token
    if match := TMDS.fullmatch(text):
        return f"D{match[1]}{SIGN[match[2]]}"
    if match := TMDS_SHIELD.fullmatch(text):
        return f"D{match[1]}S"
    if match := CLOCK.fullmatch(text):
        return f"CK{SIGN[match[1]]}"
    if CLOCK_SHIELD.fullmatch(text):
        return "CKS"
    if match := SUPER.fullmatch(text):
        return f"SS{match[1]}{SIGN[match[2]]}"
    if match := LANE.fullmatch(text):
        return f"{match[1]}{match[2]}{SIGN[match[3]]}"
    if match := LANE_SIGN_FIRST.fullmatch(text):
        return f"{match[1]}{match[3]}{SIGN[match[2]]}"
    if match := SIDEBAND.fullmatch(text):
        return f"SBU{match[1]}"
    if match := FIREWIRE.fullmatch(text):
        return f"TP{match[1]}{'-' if match[2] in ('-', '*') else '+'}"
    return None


def is_shell_contact(contact):
    return contact.upper() in SHELL_NUMBERS


# --- comparison ------------------------------------------------------------


def library_contacts(pins, numbers_only):
    """Split library pins into {number: [names]} and the names of shell pins."""
    contacts, shell = {}, []
    for number, names in pins.items():
        tokens = {classify(name) for name in names}
        if is_shell_contact(number) or (not numbers_only and tokens == {"SHIELD"}):
            shell.extend(names)
        else:
            contacts[number] = names
    return contacts, shell


def compare(name, project, pins):
    """(number of contacts compared, list of differences)."""
    numbers_only = name in NUMBERS_ONLY
    wanted, shell = library_contacts(pins, numbers_only)
    problems = []
    compared = 0

    for contact, signal in sorted(project.items()):
        if is_shell_contact(contact):
            if not shell:
                continue
            token = "SHIELD" if numbers_only else classify(signal)
            if token != "SHIELD":
                problems.append(f"{contact}: project `{signal}`, library shell")
            compared += 1
            continue
        if contact not in wanted:
            if contact in NOT_FITTED.get(name, ()) and classify(signal) == "NC":
                continue
            problems.append(f"{contact}: project `{signal}`, not in the library")
            continue
        compared += 1
        if numbers_only:
            continue
        token = classify(signal)
        if token is None:
            problems.append(f"{contact}: project name `{signal}` cannot be classified")
        for other in wanted[contact]:
            other_token = classify(other)
            if other_token is None:
                problems.append(f"{contact}: library name `{other}` cannot be classified")
            elif token is not None and token != other_token:
                problems.append(
                    f"{contact}: project `{signal}` ({token}), library `{other}` ({other_token})"
                )

    for contact in sorted(set(wanted) - set(project)):
        problems.append(f"{contact}: library `{wanted[contact][0]}`, not in the project")
    if compared == 0:
        problems.append("no contact compared")
    return compared, problems


def main(arguments):
    if len(arguments) not in (2, 3):
        print("usage: check_symbols.py PINS.json [LIBRARY]")
        return 1
    path = arguments[2] if len(arguments) == 3 else LIBRARY
    if not os.path.exists(path):
        print(f"library not installed: {path}")
        return 1 if os.environ.get("REQUIRE_SYMBOLS") == "1" else 0

    with open(arguments[1], encoding="utf-8") as file:
        project = json.load(file)
    with open(path, encoding="utf-8") as file:
        library = Library(file.read())

    connectors = 0
    contacts = 0
    failed = False
    for name, symbols in SYMBOLS.items():
        if name not in project:
            continue
        symbol = next((each for each in symbols if each in library), None)
        if symbol is None:
            print(f"{name}: no symbol in this library")
            continue
        compared, problems = compare(name, project[name], library.pins(symbol))
        kind = ", contact numbers only" if name in NUMBERS_ONLY else ""
        print(f"{name}: {compared} contacts compared with {symbol}{kind}")
        for problem in problems:
            print(f"  DIFFERENCE {name}.{problem}")
        failed = failed or bool(problems)
        connectors += 1
        contacts += compared
    for name in sorted(set(project) - set(SYMBOLS)):
        print(f"{name}: no symbol known")

    if connectors == 0:
        print("no connector compared")
        return 1
    print(f"{connectors} connectors, {contacts} contacts compared")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
