def bid_page(sheet, bid, write):
    return ""
