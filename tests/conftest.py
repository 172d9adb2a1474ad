# With this file pytest puts the folder of the tests on the path, so that tests in folders below find the helpers.
