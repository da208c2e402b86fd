DROP TABLE copy_made;
