"""Where a book can lie, behind one port (`workbook.port`): a closed file, Excel, Calc."""
