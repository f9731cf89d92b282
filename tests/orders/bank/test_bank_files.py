"""Bank files of three kinds become the same lines; what is broken gives a sentence and no line."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.bank import bank_files
from orders.bank.bank_files import Columns, Unreadable, read

MAP = Columns(booked_on="Date", words="Description", amount="Amount", name="Payer")

TWO = Columns(booked_on="Date", words="Details", money_in="Paid in", money_out="Paid out")

CSV = """Account,12345678,,
Date,Payer,Description,Amount
02/11/2026,S OKAFOR,CY8Y-EGPH,"1,081.00"
03/11/2026,Kiln Yard Supplies,plaster,-54.20

03/11/2026,S OKAFOR,second half,81.00
"""

OFX1 = """OFXHEADER:100
DATA:OFXSGML
ENCODING:USASCII

<OFX><BANKMSGSRSV1><STMTTRNRS><STMTRS><CURDEF>GBP<BANKTRANLIST>
<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20261102120000[0:GMT]<TRNAMT>81.00<FITID>A1<NAME>S OKAFOR &amp; SONS<MEMO>CY8Y EGPH
</STMTTRN>
<STMTTRN><TRNTYPE>DEBIT<DTPOSTED>20261103<TRNAMT>-54.20<FITID>A2<NAME>KILN YARD
</STMTTRN></BANKTRANLIST></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>
"""

OFX2 = """<?xml version="1.0"?><?OFX OFXHEADER="200"?>
<OFX><STMTRS><CURDEF>GBP</CURDEF><BANKTRANLIST><STMTTRN><TRNTYPE>CREDIT</TRNTYPE>
<DTPOSTED>20261102</DTPOSTED><TRNAMT>81.00</TRNAMT><FITID>A1</FITID><NAME>S OKAFOR &amp; SONS</NAME><MEMO>CY8Y EGPH</MEMO></STMTTRN>
</BANKTRANLIST></STMTRS></OFX>"""

CAMT = """<?xml version="1.0" encoding="UTF-8"?>
<Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.08"><BkToCstmrStmt><Stmt>
<Ntry><Amt Ccy="GBP">81.00</Amt><CdtDbtInd>CRDT</CdtDbtInd><Sts><Cd>BOOK</Cd></Sts><BookgDt><Dt>2026-11-02</Dt></BookgDt>
<AcctSvcrRef>B1</AcctSvcrRef><NtryDtls><TxDtls><RltdPties><Dbtr><Pty><Nm>S Okafor</Nm></Pty></Dbtr></RltdPties>
<RmtInf><Strd><CdtrRefInf><Ref>RF45CY8YEGPH</Ref></CdtrRefInf></Strd></RmtInf></TxDtls></NtryDtls></Ntry>
<Ntry><Amt Ccy="GBP">54.20</Amt><CdtDbtInd>DBIT</CdtDbtInd><Sts>BOOK</Sts><BookgDt><DtTm>2026-11-03T08:00:00</DtTm></BookgDt></Ntry>
<Ntry><Amt Ccy="GBP">9.00</Amt><CdtDbtInd>CRDT</CdtDbtInd><Sts><Cd>PDNG</Cd></Sts><BookgDt><Dt>2026-11-03</Dt></BookgDt></Ntry>
<Ntry><Amt Ccy="GBP">30.00</Amt><CdtDbtInd>CRDT</CdtDbtInd><Sts><Cd>BOOK</Cd></Sts><BookgDt><Dt>2026-11-04</Dt></BookgDt><NtryDtls>
<TxDtls><Amt Ccy="GBP">10.00</Amt><CdtDbtInd>CRDT</CdtDbtInd><RmtInf><Ustrd>one</Ustrd></RmtInf></TxDtls>
<TxDtls><Amt Ccy="GBP">20.00</Amt><CdtDbtInd>CRDT</CdtDbtInd><RmtInf><Ustrd>two</Ustrd></RmtInf></TxDtls></NtryDtls></Ntry>
</Stmt></BkToCstmrStmt></Document>"""


def lines(text, **facts):
    data = text if isinstance(text, bytes) else text.encode()
    return read(data, currency="GBP", **facts)


class TestCsv:
    def test_lines_below_the_headings(self):
        found = lines(CSV, columns=MAP)
        assert [(each.booked_on.day, each.amount_minor) for each in found] == [
            (2, 108100),
            (3, -5420),
            (3, 8100),
        ]
        assert (found[0].words, found[0].name) == ("CY8Y-EGPH", "S OKAFOR")

    def test_two_columns_of_money_and_another_separator(self):
        text = "Date;Details;Paid out;Paid in\n02/11/2026;a;;81,00\n02/11/2026;b;1.054,20;\n"
        assert [each.amount_minor for each in lines(text, columns=TWO)] == [8100, -105420]

    def test_an_old_banks_letters(self):
        text = "Date,Payer,Description,Amount\n02/11/2026,Zoë,x,1.00\n".encode("cp1252")
        assert lines(text, columns=MAP)[0].name == "Zoë"

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            (
                "Date,Payer,Description,Amount\n31/02/2026,a,b,1\n",
                "Line 2 of the file: “31/02/2026”",
            ),
            ("Date,Payer,Description,Amount\n02/11/2026,a,b,one\n", "“one” is no amount"),
            ("Date,Payer,Description,Amount\n02/11/2026,a,b,1.005\n", "more decimals than GBP"),
            ("Date,Payer,Words,Amount\n02/11/2026,a,b,1\n", "no column “Description”"),
            ("nothing\n", "No headings"),
            ("", "No headings"),
            ('Date,Payer,Description,Amount\n02/11/2026,"a,b,1', "cannot be read"),
            (b"\x89PNG\r\n\x00\x00", "not a table of text"),
        ],
    )
    def test_what_is_wrong_is_said(self, text, words):
        with pytest.raises(Unreadable, match=words):
            lines(text, columns=MAP)

    def test_it_wants_its_columns_first(self):
        with pytest.raises(Unreadable, match="which column"):
            lines(CSV)
        assert bank_files.headings(CSV.encode()) == ["Date", "Payer", "Description", "Amount"]

    def test_equal_headings_are_told_apart_and_long_ones_are_cut(self):
        long = "Everything that the bank knows of it " * 4
        text = f"Date,Amount,Amount,Amount (2),{long},{long},,\n02/11/2026,1.00,2.00,3.00,its words,else\n"
        heads = bank_files.headings(text.encode())
        assert heads[1:4] == ["Amount", "Amount (2)", "Amount (2) (2)"]
        assert all(len(head) <= 80 for head in heads)
        assert len(set(heads)) == len(heads) - 1, "two have no name"
        second = lines(text, columns=replace(MAP, words=heads[4], amount="Amount (2)", name=""))
        assert [(line.amount_minor, line.words) for line in second] == [(200, "its words")]


class TestOfx:
    def test_both_kinds_say_the_same(self):
        one, two = lines(OFX1), lines(OFX2)
        assert one[0] == two[0]
        assert (one[0].booked_on, one[0].amount_minor) == (date(2026, 11, 2), 8100)
        assert (one[0].name, one[0].words) == ("S OKAFOR & SONS", "CY8Y EGPH")
        assert one[1].amount_minor == -5420

    def test_a_file_broken_off_is_refused_whole(self):
        with pytest.raises(Unreadable, match="broken off"):
            lines(OFX1[: OFX1.index("KILN")])

    def test_another_currency_is_refused(self):
        with pytest.raises(Unreadable, match="in EUR"):
            lines(OFX1.replace("GBP", "EUR"))


class TestCamt:
    def test_booked_entries_and_the_parts_of_a_batch(self):
        found = lines(CAMT)
        assert [each.amount_minor for each in found] == [8100, -5420, 1000, 2000]
        assert (found[0].words, found[0].name, found[0].bank_id) == (
            "RF45CY8YEGPH",
            "S Okafor",
            "B1",
        )
        assert found[1].booked_on == date(2026, 11, 3)

    def test_a_file_broken_off_is_refused_whole(self):
        with pytest.raises(Unreadable, match="broken off"):
            lines(CAMT[:-40])

    def test_another_currency_is_refused(self):
        with pytest.raises(Unreadable, match="in EUR"):
            lines(CAMT.replace('Ccy="GBP">81', 'Ccy="EUR">81'))

    def test_no_entity_is_expanded(self):
        bomb = CAMT.replace(
            "<Document", '<!DOCTYPE d [<!ENTITY a SYSTEM "file:///etc/hostname">]><Document', 1
        ).replace("S Okafor", "&a;")
        assert lines(bomb)[0].name == ""


class TestFingerprint:
    def test_the_same_booking_in_an_overlapping_file_is_the_same(self):
        first, *_ = lines(CSV, columns=MAP)
        head, _, rest = CSV.partition("02/11/2026")
        longer = f"{head}01/11/2026,X,other,5.00\n02/11/2026{rest}"
        assert first.fingerprint in {each.fingerprint for each in lines(longer, columns=MAP)}

    def test_two_equal_bookings_of_a_day_are_two(self):
        row = "02/11/2026,a,b,1.00\n"
        found = lines(f"Date,Payer,Description,Amount\n{row}{row}", columns=MAP)
        assert len({each.fingerprint for each in found}) == 2

    @given(st.lists(st.sampled_from(["a", "b", "A  b"]), max_size=12))
    def test_reading_twice_gives_the_same_marks_all_different(self, words):
        rows = "".join(f"02/11/2026,p,{word},1.00\n" for word in words)
        text = "Date,Payer,Description,Amount\n" + rows
        once = [each.fingerprint for each in lines(text, columns=MAP)]
        assert once == [each.fingerprint for each in lines(text, columns=MAP)]
        assert len(set(once)) == len(words)


@pytest.mark.parametrize(
    ("text", "minor"),
    [
        ("1,234.50", 123450),
        ("1.234,50", 123450),
        ("1,234", 123400),
        ("-5", -500),
        ("(5.00)", -500),
        ("5.00 DR", -500),
        ("£5.00 CR", 500),
        ("5.00-", -500),
        ("\N{MINUS SIGN}5.5", -550),
        ("0", 0),
    ],
)
def test_amounts_as_banks_write_them(text, minor):
    assert bank_files.minor_of(text, "GBP") == minor


@given(st.integers(-10_000_000, 10_000_000))
def test_every_amount_comes_back(minor):
    sign, whole = "-" if minor < 0 else "", abs(minor)
    assert bank_files.minor_of(f"{sign}{whole // 100:,}.{whole % 100:02}", "GBP") == minor


@given(st.binary(max_size=400))
def test_no_file_at_all_breaks_it(data):
    """Whatever bytes come: lines, or a sentence."""
    try:
        found = read(data, currency="GBP", columns=MAP)
    except Unreadable as told:
        found = [str(told)]
    assert all(found)
