//! Pages and workbooks for people, made from a summary, its rows and a picture: bytes, no files.
