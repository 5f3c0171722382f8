"""Odd things to type and to send: what breaks programs that trust their input.

Numbers and dates at their edges, texts that are hard to store or to show, and what an address, a
header or a body may be made of when nobody means well.
"""

NUMBERS = [
    *("-1", "0", "1", "-0", "00", "+5", " 7 ", "1.5", "1,5", "1e3", "1e308", "1e400", "NaN"),
    *("inf", "-inf", "Infinity", "0x1F", "2147483648", "9223372036854775808", "9" * 400),
    *("\u0663", "\uff11\uff12", "\u00b2", "\u0967", "1_000", "--3", "1/2", "", " "),
    "9" * 5000,  # more digits than Python counts out
]
DATES = [
    *("0001-01-01", "1970-01-01", "2038-01-20", "9999-12-31", "10000-01-01", "2026-02-30"),
    *("2026-13-01", "26-01-01", "01/02/2026", "2026-1-1", "20260101", "-2026-01-01"),
    *("2026-W07-3", "\u0662\u0660\u0662\u0666-\u0660\u0661-\u0660\u0661", "0000-00-00"),
    *("9999-12-31T23:59:59.999999+14:00", "0001-01-01T00:00:00-14:00", "2026-11-25T25:00:00Z"),
]
TEXTS = [
    *(
        "\x00",
        "a\x00b",
        "\ud800",
        "a\udfffb",
        "\r\nSet-Cookie: x=y",
        "\x1b[31m",
        "\ufeff",
        "\u202e",
    ),
    *("e\u0301" * 50, "\u0301" * 400, "\u200b", "\U0001f468\u200d\U0001f469\u200d\U0001f467"),
    *("null", "None", "undefined", "true", "' OR 1=1 --", '"; DROP TABLE studio_studio; --'),
    *("<script>alert(1)</script>", "{{ 7 * 7 }}", "{% debug %}", "%s%n", "{0.__class__}", "${7*7}"),
    *(
        "../../etc/passwd",
        "=1+1",
        "@x",
        "x" * 10_000,
        "(((" * 100,
        "\u0130\u0131\u1e9e",
        "\t",
        "\n",
    ),
]
LISTS = ["[]", "{}", '{"a": [1, null]}', "[[[[[[[[", "1;2;3", "a=b&c=d", "%00", "%ED%A0%80", "%zz"]
EVERY = [*NUMBERS, *DATES, *TEXTS, *LISTS]

METHODS = [
    *("GET", "GET", "GET", "POST", "POST", "POST", "HEAD", "PUT", "PATCH", "DELETE", "OPTIONS"),
    *("TRACE", "BREW", "get"),
]
PATHS = [
    *(
        "/%00",
        "/%ff",
        "/students/%00",
        "/students/%ED%A0%80",
        "//",
        "/../",
        "/.env",
        "/.git/config",
    ),
    *("/static/", "/static/../manage.py", "/static/%2e%2e/%2e%2e/manage.py", "/static/none.css"),
    *("/practice/%F0%9F%98%80", "/a" * 2000, "/students/" + "9" * 5000, "/\\example.org"),
    *("/lists/ALL", "/studios/%2F/open", "/sw.js/", "/letters/stop/a:b:c", "/letters/stop/%00"),
]
HEADERS = [
    *({"HX-Request": "true"}, {"HX-Request": "true", "HX-Current-URL": "http://[bad"}),
    *({"Accept": "application/json"}, {"Accept": "\x01"}, {"Accept-Language": "\u00e9;q=x"}),
    *({"If-None-Match": '"x", W/"y'}, {"If-Modified-Since": "yesterday"}, {"Range": "bytes=9-1"}),
    *({"Cookie": "filar_d=a.b~c.d; filar_session=\x00"}, {"Cookie": "filar_p=" + "~" * 3000}),
    *({"X-Forwarded-For": "1.2.3.4, \x00, ::zz"}, {"X-Forwarded-Proto": "gopher"}),
    *({"Host": "evil.example"}, {"Host": "a b"}, {"Origin": "null"}, {"Referer": "//\\"}),
    *({"User-Agent": "\u00ff" * 500}, {"User-Agent": ""}, {"Content-Length": "-1"}, {}, {}, {}),
]
CONTENT_TYPES = [
    *("application/x-www-form-urlencoded",) * 4,
    *("multipart/form-data; boundary=x", "multipart/form-data", "application/json", "text/plain"),
    *(
        "application/x-www-form-urlencoded; charset=utf-16",
        "text/plain; charset=none",
        "",
        "\u00ff",
    ),
]
BODIES = [
    *(b"", b"\x00", b"\xff\xfe", b"{", b"[]", b"%", b"a=%ED%A0%80&b=%00", b"--x\r\n", b"&" * 3000),
    b'--x\r\nContent-Disposition: form-data; name="key"; filename="\x00"\r\n\r\nx\r\n--x--',
]
TOO_LARGE = b"words=" + b"x" * 3_000_000

# Ways to say another host that a careless look takes for a path of one's own.
ELSEWHERE = [
    *("https://evil.example", "http://evil.example", "//evil.example", "///evil.example"),
    *(
        "////evil.example",
        "/\\evil.example",
        "\\\\evil.example",
        "/\\/evil.example",
        "\\/evil.example",
    ),
    *("https:evil.example", "https:/evil.example", "http:///evil.example", "HtTpS://evil.example"),
    *(
        "/\t/evil.example",
        "/%09/evil.example",
        "\t//evil.example",
        " //evil.example",
        "\n//evil.example",
    ),
    *("//evil.example%2f..", "//testserver@evil.example", "https://testserver@evil.example/"),
    *("https://testserver.evil.example", "//evil.example:80", "javascript:alert(1)"),
    *("data:text/html,x", "ftp://evil.example", "//evil\u3002example", "/\u2028/evil.example"),
    *(
        "//[2001:db8::1]",
        "https://evil.example\\@testserver",
        ".evil.example",
        "@evil.example",
        "\x00//evil.example",
    ),
]
