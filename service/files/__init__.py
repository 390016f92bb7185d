"""WHAT COMES AND GOES AS FILES: tables out of CSV and XLSX, and back; cells, not meanings."""
