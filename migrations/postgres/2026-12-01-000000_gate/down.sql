DROP TABLE password_cost;
DROP TABLE known_device;
DROP TABLE sign_in_try;
