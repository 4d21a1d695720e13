"""Whether laws.json or line.json was damaged or edited: python3 check_line.py FILE.json

SHA-256 of the RFC 8785 form without `checksum`. It shows damage and careless edits, not malice."""
import decimal, hashlib, json, sys

def number(value):
    """As ECMAScript writes it: the shortest digits that read back, an exponent below 1e-6 and from 1e21 on."""
    sign, digits, exponent = decimal.Decimal(repr(float(value) or 0.0)).normalize().as_tuple()
    text, point = "".join(map(str, digits)), len(digits) + exponent
    if point > 21 or point < -5:
        text = text[0] + ("." + text[1:] if text[1:] else "") + f"e{point - 1:+d}"
    elif point <= 0:
        text = "0." + "0" * -point + text
    else:
        text = text[:point].ljust(point, "0") + ("." + text[point:] if text[point:] else "")
    return "-" * sign + text

def canonical(value):
    if isinstance(value, dict):
        names = sorted(value, key=lambda name: name.encode("utf-16-be"))
        return "{" + ",".join(canonical(name) + ":" + canonical(value[name]) for name in names) + "}"
    if isinstance(value, list):
        return "[" + ",".join(canonical(item) for item in value) + "]"
    if isinstance(value, (str, bool)) or value is None:
        return json.dumps(value, ensure_ascii=False)
    return number(value)

def checksum(document):
    content = canonical({name: value for name, value in document.items() if name != "checksum"})
    return hashlib.sha256(content.encode()).hexdigest()

if __name__ == "__main__":
    document = json.load(open(sys.argv[1], encoding="utf-8-sig"))
    whole = checksum(document) == document.get("checksum")
    sys.exit(0 if whole else f"{sys.argv[1]}: damaged or edited, take the original again")
